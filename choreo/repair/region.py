"""Where a scenario can be done over two quantities: the border by the solver, column by column."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from choreo.problem import build_staging
from choreo.proof import broken_budgets, conflict_budget, relaxed_rows
from choreo.repair.knobs import Knob
from choreo.repair.search import moved_by, plan_or_none
from choreo.scenario import Scenario
from choreo.solve import Reach, solve_linear
from choreo.words import ChoreoError

COLUMNS = 31
# A column is called feasible only if the verified plans just inside its border agree; this share of the range inside.
INSIDE = 1e-4
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

    first: Knob
    second: Knob
    first_range: tuple[float, float]
    second_range: tuple[float, float]
    columns: tuple[Column, ...]


def region(
    scenario: Scenario,
    first: Knob,
    second: Knob,
    first_range: tuple[float, float],
    second_range: tuple[float, float],
    *,
    columns: int = COLUMNS,
) -> Region:
    """Map where a scenario is feasible over two of its quantities (SI ranges)."""
    made = tuple(
        _column(scenario, first, second, float(at), second_range)
        for at in np.linspace(*first_range, columns)
    )
    return Region(first, second, first_range, second_range, made)


def _column(
    scenario: Scenario, first: Knob, second: Knob, at: float, span: tuple[float, float]
) -> Column:
    low, high = span
    edges = _edges(first.put(scenario, at), second, low, high)
    if edges is None:
        word = _outside(scenario, first, second, at, low, high)
        return Column(at, None, None, word, word)
    least, most = edges
    step = INSIDE * (high - low)
    below = _outside(scenario, first, second, at, low, least - step) if least - low > step else ""
    above = _outside(scenario, first, second, at, most + step, high) if high - most > step else ""
    return Column(at, least, most, below, above)


def _edges(scenario: Scenario, second: Knob, low: float, high: float) -> tuple[float, float] | None:
    """The least and most of the second quantity, each confirmed just inside; None where nothing works."""
    middle = (low + high) / 2
    try:
        moved = moved_by(second.put(scenario, middle), [_at(second, middle)])
    except ChoreoError:
        return None
    if not moved.knobs:
        works = plan_or_none(second.put(scenario, middle)) is not None
        return (low, high) if works else None
    reach = Reach(moved.staging.problem, moved.directions)
    half = (high - low) / 2
    found = []
    for sign in (1.0, -1.0):
        starts = [np.array([share * half]) for share in (0.0, -sign * 0.5, -sign * 0.9, sign * 0.5)]
        reached = reach.least(np.array([sign / half]), np.array([-half]), np.array([half]), starts)
        if reached is None:
            return None
        value = middle + float(reached.deltas[0])
        inside = min(max(value + sign * INSIDE * (high - low), low), high)
        if plan_or_none(second.put(scenario, inside)) is None:
            return None
        found.append(value)
    return found[0], found[1]


def _at(knob: Knob, value: float) -> Knob:
    return Knob(
        knob.name, knob.unit, value, knob.helps, knob.low, knob.high, knob.keys, knob.end, knob.put
    )


def _outside(
    scenario: Scenario, first: Knob, second: Knob, at: float, low: float, high: float
) -> str:
    """'infeasible' when three looks into a stretch are all proven so, else 'undecided'."""
    for share in LOOKS:
        tried = second.put(first.put(scenario, at), low + share * (high - low))
        if not _proven(tried):
            return "undecided"
    return "infeasible"


def _proven(scenario: Scenario) -> bool:
    try:
        staging = build_staging(scenario)
    except ChoreoError:
        return False
    if any(len(meeting.candidates) > 1 for meeting in staging.meetings.values()):
        return False
    if broken_budgets(staging.problem):
        return True
    return conflict_budget(relaxed_rows(staging.problem), solve_linear) is not None
