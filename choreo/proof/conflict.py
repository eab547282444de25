"""From an infeasible relaxation to a smallest conflict, given as a budget that adds up.

A deletion filter finds an irreducible infeasible subset of the rows: one row at a time is dropped for good if the rest
stays infeasible without it, which is certain where the multipliers at hand don't count it. Farkas multipliers combine
what is left into 0 >= shortfall; they turn each row's constant into metres (or seconds), a speed being the multiplier
that converts.
Sources, from memory: Chinneck and Dravnieks, Locating minimal infeasible constraint sets in linear programs, ORSA
Journal on Computing 3 (1991) 157-168; Farkas' lemma in any text on linear programming.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from choreo.plans.record import Budget, BudgetLine
from choreo.problem.linear import LinearProblem, Vector
from choreo.proof.budgets import ROUNDING
from choreo.proof.relaxed import RelaxedRow
from choreo.words.display import KMH_PER_MPS, short_kmh

# A multiplier (or its contribution in m or s) of less than this is rounding of the linear solver.
TINY = 1e-9
# A multiplier that is 1 to within this counts a row once: its words need no factor.
SAME = 1e-6
# What rows without words add up to.
TIED = "ways and times between these"

# Gives x, or None when there is no solution; who asks for a proof hands in the solver's.
LinearSolver = Callable[[LinearProblem], Vector | None]


def conflict_budget(rows: Sequence[RelaxedRow], solve: LinearSolver) -> Budget | None:
    """Give an irreducible infeasible subset of the rows as a budget, or None when the rows can all hold.

    A misfit below a micrometre or a microsecond is rounding: no conflict.
    """
    matrix = _matrix(rows)
    low, high = np.array([row.lo for row in rows]), np.array([row.hi for row in rows])
    kept = list(range(len(rows)))
    multipliers = _multipliers(matrix, low, high, solve)
    if multipliers is None:
        return None
    for index in range(len(rows)):
        place = kept.index(index)
        fewer = [one for one in kept if one != index]
        if multipliers[place] == 0.0:
            kept, multipliers = fewer, np.delete(multipliers, place)
            continue
        left = _multipliers(matrix[fewer], low[fewer], high[fewer], solve)
        if left is not None:
            kept, multipliers = fewer, left
    return _budget([rows[index] for index in kept], multipliers)


def least_miss(rows: Sequence[RelaxedRow], solve: LinearSolver) -> float:
    """Give the least by which the worst of the rows must be missed, each in its own unit (m or s); 0 when they fit."""
    low, high = np.array([row.lo for row in rows]), np.array([row.hi for row in rows])
    multipliers = _multipliers(_matrix(rows), low, high, solve)
    if multipliers is None:
        return 0.0
    bounds = np.where(multipliers > 0.0, low, high)
    used = multipliers != 0.0
    return float(multipliers[used] @ bounds[used])


def _matrix(rows: Sequence[RelaxedRow]) -> Vector:
    names = {name: i for i, name in enumerate(dict.fromkeys(n for row in rows for n in row.terms))}
    matrix = np.zeros((len(rows), len(names)))
    for index, row in enumerate(rows):
        for name, value in row.terms.items():
            matrix[index, names[name]] = value
    return matrix


def _multipliers(matrix: Vector, low: Vector, high: Vector, solve: LinearSolver) -> Vector | None:
    """Farkas multipliers: signed, y . matrix = 0, with the largest y . bound, their sizes adding up to 1.

    That largest is the least worst miss of the rows, each in its own unit: None when it is rounding, so that they fit.
    """
    # Columns: rows counted from below, then from above, where they have such a bound.
    below, above = np.flatnonzero(np.isfinite(low)), np.flatnonzero(np.isfinite(high))
    gain = np.concatenate([low[below], -high[above]])
    combined = np.vstack([np.hstack([matrix[below].T, -matrix[above].T]), np.ones((1, len(gain)))])
    sums = np.append(np.zeros(matrix.shape[1]), 1.0)
    problem = LinearProblem(
        matrix=combined,
        row_lo=sums,
        row_hi=sums,
        lo=np.zeros(len(gain)),
        hi=np.full(len(gain), math.inf),
        cost=-gain,
    )
    found = solve(problem) if len(gain) else None
    if found is None or float(gain @ found) <= ROUNDING:
        return None
    signed = np.zeros(len(low))
    signed[below] += found[: len(below)]
    signed[above] -= found[len(below) :]
    return signed


def _budget(rows: Sequence[RelaxedRow], multipliers: Vector) -> Budget | None:
    """Scale so that the largest single need counts once in its own unit; needs against what there is."""
    contributions = []
    for row, multiplier in zip(rows, multipliers, strict=True):
        bound = row.lo if multiplier > 0 else row.hi
        contributions.append(float(multiplier * bound))
    there = {row.unit for row in rows if row.what}
    unit = next((one for one in ("m", "s") if one in there), "m/s")
    sizes = [
        abs(multiplier)
        for row, multiplier in zip(rows, multipliers, strict=True)
        if row.unit == unit and row.what and abs(multiplier) > TINY
    ]
    if not sizes:
        return None
    scale = 1 / max(sizes)
    lines = [
        BudgetLine(_words(row, abs(multiplier) * scale, unit), value * scale, row.place)
        for row, multiplier, value in zip(rows, multipliers, contributions, strict=True)
        if row.what and abs(value * scale) > TINY
    ]
    short = sum(contributions) * scale
    if short <= ROUNDING or not lines:
        return None
    room = min(lines, key=lambda line: line.value)
    pieces = [line for line in lines if line is not room]
    # What only ties times and stations together has no words of its own, and counts all the same.
    tied = short - sum(line.value for line in lines)
    if abs(tied) > TINY:
        pieces.append(BudgetLine(TIED, tied, None))
    if unit == "m/s":
        return _in_kmh(room, pieces, short)
    available = BudgetLine(room.what, -room.value, room.place)
    return Budget("these can't all hold", "", unit, available, tuple(pieces), short)


def _in_kmh(room: BudgetLine, pieces: Sequence[BudgetLine], short_mps: float) -> Budget:
    """A budget of speeds alone, as people write them."""
    lines = tuple(replace(line, value=line.value * KMH_PER_MPS) for line in pieces)
    available = BudgetLine(room.what, -room.value * KMH_PER_MPS, room.place)
    short = short_mps * KMH_PER_MPS
    return Budget("these can't all hold", "", "km/h", available, lines, short)


def _words(row: RelaxedRow, factor: float, unit: str) -> str:
    """A row's words, with the speed or share by which it counts."""
    if row.unit == unit and abs(factor - 1) < SAME:
        return row.what
    if row.unit == "s" and unit == "m":
        return f"{row.what}, at {short_kmh(factor)}"
    if row.unit == "m/s" and unit == "m":
        return f"{row.what}, over {factor:.4g} s"
    return f"{row.what}, x {factor:.4g}"
