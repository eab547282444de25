"""Where a scenario can be done over two quantities: the border by the solver, column by column."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from choreo.case import Case, Quantity
from choreo.proof import broken_budgets, conflict_budget, relaxed_rows
from choreo.repair.changes import feasible_plan
from choreo.repair.search import moved_by
from choreo.solve import solve_linear
from choreo.words import ChoreoError
from choreo.words.records import dataclass

# Columns of a map: as wide as half a terminal.
COLUMNS = 31
# A column is called feasible only if the verified plans just inside its border agree; this share of the range inside.
INSIDE = 1e-4
# What lies beyond a border is looked at near both of its ends and in the middle.
LOOKS = (0.02, 0.5, 0.98)


@dataclass(frozen=True, slots=True)
class Column:
    """For one value of the first quantity: the least and most of the second with a verified plan, or None.

    below, above: whether what lies outside is proven 'infeasible' or is 'undecided' ('' where nothing lies there).
    """

    at: float
    least: float | None
    most: float | None
    below: str
    above: str


@dataclass(frozen=True, slots=True)
class Region:
    """Two quantities, their ranges in SI, and the columns."""

    first: Quantity
    second: Quantity
    first_range: tuple[float, float]
    second_range: tuple[float, float]
    columns: tuple[Column, ...]


def region(
    case: Case,
    first: Quantity,
    second: Quantity,
    first_range: tuple[float, float],
    second_range: tuple[float, float],
    *,
    columns: int = COLUMNS,
) -> Region:
    """Map where a scenario is feasible over two of its quantities (SI ranges)."""
    made = tuple(
        _column(case, first, second, float(at), second_range)
        for at in np.linspace(*first_range, columns)
    )
    return Region(first, second, first_range, second_range, made)


def _column(
    case: Case, first: Quantity, second: Quantity, at: float, span: tuple[float, float]
) -> Column:
    low, high = span
    edges = _edges(case, first, second, at, low, high)
    if edges is None:
        word = _outside(case, first, second, at, low, high)
        return Column(at, None, None, word, word)
    least, most = edges
    step = INSIDE * (high - low)
    below = _outside(case, first, second, at, low, least - step) if least - low > step else ""
    above = _outside(case, first, second, at, most + step, high) if high - most > step else ""
    return Column(at, least, most, below, above)


def _edges(
    case: Case, first: Quantity, second: Quantity, at: float, low: float, high: float
) -> tuple[float, float] | None:
    """The least and most of the second quantity, each confirmed just inside; None where nothing works."""
    middle = (low + high) / 2
    try:
        column = case.with_(first, at)
        moved = moved_by(column.with_(second, middle), [replace(second, value=middle)])
    except ChoreoError:
        return None
    if not moved.quantities:
        works = feasible_plan(moved.case) is not None
        return (low, high) if works else None
    reach = moved.reach()
    half = (high - low) / 2
    found = []
    for sign in (1.0, -1.0):
        starts = [np.array([share * half]) for share in (0.0, -sign * 0.5, -sign * 0.9, sign * 0.5)]
        reached = reach.least(np.array([sign / half]), np.array([-half]), np.array([half]), starts)
        if reached is None:
            return None
        value = middle + float(reached.deltas[0])
        inside = min(max(value + sign * INSIDE * (high - low), low), high)
        if feasible_plan(column.with_(second, inside)) is None:
            return None
        found.append(value)
    return found[0], found[1]


def _outside(
    case: Case, first: Quantity, second: Quantity, at: float, low: float, high: float
) -> str:
    """'infeasible' when three looks into a stretch are all proven so, else 'undecided'."""
    for share in LOOKS:
        value = low + share * (high - low)
        if not _proven(case, first, at, second, value):
            return "undecided"
    return "infeasible"


def _proven(case: Case, first: Quantity, at: float, second: Quantity, value: float) -> bool:
    try:
        staging = case.with_(first, at).with_(second, value).staging
    except ChoreoError:
        return False
    if any(len(meeting.candidates) > 1 for meeting in staging.meetings.values()):
        return False
    if broken_budgets(staging.problem.loose):
        return True
    return conflict_budget(relaxed_rows(staging.problem.loose), solve_linear) is not None
