"""From an infeasible relaxation to a smallest conflict, told as a budget that adds up.

Rows are dropped one at a time while the rest stays infeasible. The multipliers that combine what is left into
0 >= shortfall turn each row's constant into metres (or seconds): the speed is the multiplier that converts.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from choreo.plans.record import Budget, BudgetLine
from choreo.proof.budgets import ROUNDING
from choreo.proof.relaxed import RelaxedRow
from choreo.words.display import short_kmh

Vector = npt.NDArray[np.float64]


TINY = 1e-9
SAME = 1e-6


@dataclass(frozen=True, slots=True)
class LinearProgramme:
    """minimise cost . x with row_lo <= matrix x <= row_hi and lo <= x <= hi (open ends infinite)."""

    matrix: Vector
    row_lo: Vector
    row_hi: Vector
    lo: Vector
    hi: Vector
    cost: Vector


# Gives x, or None when there is no solution; the verdict layer hands in the solver's.
LinearSolver = Callable[[LinearProgramme], Vector | None]


def conflict_budget(rows: Sequence[RelaxedRow], solve: LinearSolver) -> Budget | None:
    """Give a smallest conflicting set of rows as a budget, or None when the rows can all hold.

    A misfit below a micrometre or a microsecond is rounding: no conflict.
    """
    matrix = _matrix(rows)
    low, high = np.array([row.lo for row in rows]), np.array([row.hi for row in rows])
    if _fits(matrix, low, high, solve):
        return None
    kept = list(range(len(rows)))
    for index in list(kept):
        fewer = [one for one in kept if one != index]
        if not _fits(matrix[fewer], low[fewer], high[fewer], solve):
            kept = fewer
    chosen = [rows[index] for index in kept]
    multipliers = _multipliers(matrix[kept], low[kept], high[kept], solve)
    return None if multipliers is None else _budget(chosen, multipliers)


def _matrix(rows: Sequence[RelaxedRow]) -> Vector:
    names = {name: i for i, name in enumerate(dict.fromkeys(n for row in rows for n in row.terms))}
    matrix = np.zeros((len(rows), len(names)))
    for index, row in enumerate(rows):
        for name, value in row.terms.items():
            matrix[index, names[name]] = value
    return matrix


def _fits(matrix: Vector, low: Vector, high: Vector, solve: LinearSolver) -> bool:
    """Least worst miss, each row's in its own unit: it fits when that is rounding."""
    count, width = matrix.shape
    if count == 0:
        return True
    # lo - z <= a x and a x <= hi + z, written as two one-sided rows each.
    below, above = np.isfinite(low), np.isfinite(high)
    stacked = np.vstack([matrix[below], matrix[above]])
    miss = np.concatenate([np.ones(below.sum()), -np.ones(above.sum())])[:, None]
    programme = LinearProgramme(
        matrix=np.hstack([stacked, miss]),
        row_lo=np.concatenate([low[below], np.full(above.sum(), -math.inf)]),
        row_hi=np.concatenate([np.full(below.sum(), math.inf), high[above]]),
        lo=np.concatenate([np.full(width, -math.inf), [0.0]]),
        hi=np.full(width + 1, math.inf),
        cost=np.concatenate([np.zeros(width), [1.0]]),
    )
    found = solve(programme)
    return found is not None and float(found[-1]) <= ROUNDING


def _multipliers(matrix: Vector, low: Vector, high: Vector, solve: LinearSolver) -> Vector | None:
    """Signed multipliers y with y . matrix = 0 and the largest y . bound, their sizes adding up to 1."""
    count, width = matrix.shape
    gain = np.concatenate(
        [np.where(np.isfinite(low), low, 0.0), np.where(np.isfinite(high), -high, 0.0)]
    )
    usable = np.concatenate([np.isfinite(low), np.isfinite(high)])
    combined = np.vstack([np.hstack([matrix.T, -matrix.T]), np.ones((1, 2 * count))])
    programme = LinearProgramme(
        matrix=combined,
        row_lo=np.concatenate([np.zeros(width), [1.0]]),
        row_hi=np.concatenate([np.zeros(width), [1.0]]),
        lo=np.zeros(2 * count),
        hi=np.where(usable, math.inf, 0.0),
        cost=-gain,
    )
    found = solve(programme)
    if found is None:
        return None
    signed: Vector = found[:count] - found[count:]
    return signed


def _budget(rows: Sequence[RelaxedRow], multipliers: Vector) -> Budget | None:
    """Scale so that the largest single need counts once in its own unit; needs against what there is."""
    contributions = []
    for row, multiplier in zip(rows, multipliers, strict=True):
        bound = row.lo if multiplier > 0 else row.hi
        contributions.append(float(multiplier * bound))
    unit = "m" if any(row.unit == "m" and row.what for row in rows) else "s"
    sizes = [
        abs(multiplier)
        for row, multiplier in zip(rows, multipliers, strict=True)
        if row.unit == unit and row.what and abs(multiplier) > TINY
    ]
    if not sizes:
        return None
    scale = 1 / max(sizes)
    lines = [
        BudgetLine(_told(row, abs(multiplier) * scale, unit), value * scale, row.place)
        for row, multiplier, value in zip(rows, multipliers, contributions, strict=True)
        if row.what and abs(value * scale) > TINY
    ]
    short = sum(contributions) * scale
    if short <= ROUNDING or not lines:
        return None
    room = min(lines, key=lambda line: line.value)
    pieces = tuple(line for line in lines if line is not room)
    available = BudgetLine(room.what, -room.value, room.place)
    return Budget("these can't all hold", "", unit, available, pieces, short)


def _told(row: RelaxedRow, factor: float, unit: str) -> str:
    """A row's words, with the speed or share by which it counts."""
    if row.unit == unit and abs(factor - 1) < SAME:
        return row.what
    if row.unit == "s" and unit == "m":
        return f"{row.what}, at {short_kmh(factor)}"
    return f"{row.what}, x {factor:.4g}"
