"""Multipliers of rows: they combine rows to a cost, and their sides to a bound of it.

Source: any text on linear programming, under duality; from memory.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from choreo.linear.affine import Affine
from choreo.linear.rows import Row
from choreo.linear.search import LinearSolver
from choreo.problem.linear import LinearProblem, Vector
from choreo.words.records import dataclass

# A multiplier that is less is rounding of the linear solver.
TINY = 1e-9
# Multipliers combine rows to a cost; what they miss it by, as a share of what they add up, is rounding.
ROUNDING = 1e-11
# A pivot that is less is none.
PIVOT = 1e-7

# A row of a node: which part of it (see `Again._part`), and the row's number there.
Place = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Proof:
    """Rows whose multipliers bound a cost from below; beyond: the side (+1 above, -1 below) of a row that can't hold,
    None where it is the cost of the search. names: of unknowns, so many first that the multipliers follow from those.
    """

    places: tuple[Place, ...]
    names: tuple[str, ...]
    row: Place | None = None
    beyond: float = 0.0


def bound_of(rows: Sequence[Row], names: Sequence[str], cost: Affine) -> float:
    """Give what a cost is at least, by the multipliers that combine rows to it; -inf where none do.

    names: of all unknowns; the multipliers follow from as many first ones as there are rows.
    """
    numbers = {name: number for number, name in enumerate(names)}
    sums = np.zeros((len(numbers), len(rows)))
    costs = np.zeros(len(numbers))
    try:
        for column, row in enumerate(rows):
            for name, value in row.expression.terms.items():
                sums[numbers[name], column] = value
        for name, value in cost.terms.items():
            costs[numbers[name]] = value
        signed = np.linalg.solve(sums[: len(rows)], costs[: len(rows)])
    except (KeyError, np.linalg.LinAlgError):
        return -math.inf
    sizes = np.abs(sums) @ np.abs(signed) + np.abs(costs)
    if np.any(np.abs(sums @ signed - costs) > ROUNDING * sizes):
        return -math.inf
    total = cost.constant
    for one, row in zip(signed.tolist(), rows, strict=True):
        side = row.lo if one > 0.0 else row.hi
        if not math.isfinite(side):
            if abs(one) > ROUNDING:
                return -math.inf
            continue
        total += one * (side - row.expression.constant)
    return total


def multipliers_of(
    matrix: Vector, low: Vector, high: Vector, cost: Vector | None, solve: LinearSolver
) -> Vector | None:
    """Give signed multipliers y with y . matrix = cost and the largest y . bound.

    Without a cost those, of sizes that add up to 1, whose y . bound is above 0. None where there are none.
    """
    below, above = np.flatnonzero(np.isfinite(low)), np.flatnonzero(np.isfinite(high))
    gain = np.concatenate((low[below], -high[above]))
    combined = np.hstack((matrix[below].T, -matrix[above].T))
    wanted = np.zeros(matrix.shape[1]) if cost is None else cost
    if cost is None:
        combined = np.vstack((combined, np.ones((1, len(gain)))))
        wanted = np.append(wanted, 1.0)
    count = len(gain)
    found = solve(
        LinearProblem(combined, wanted, wanted, np.zeros(count), np.full(count, math.inf), -gain)
    )
    if found is None or (cost is None and float(gain @ found) <= 0.0):
        return None
    signed = np.zeros(len(low))
    signed[below] += found[: len(below)]
    signed[above] -= found[len(below) :]
    return signed


def proof_of(
    places: Sequence[Place], matrix: Vector, names: Sequence[str], signed: Vector
) -> Proof:
    """Give the rows that count, and their unknowns, those first from which the multipliers follow."""
    used = np.flatnonzero(np.abs(signed) > TINY)
    sums = matrix[used].T
    met = np.flatnonzero(np.any(sums != 0.0, axis=1)).tolist()
    first = independent(sums[met])
    order = [met[one] for one in first] + [one for n, one in enumerate(met) if n not in first]
    return Proof(tuple(places[one] for one in used.tolist()), tuple(names[one] for one in order))


def independent(matrix: Vector) -> list[int]:
    """Give as many rows of a matrix as it has columns, far from singular, by elimination with the largest pivots."""
    left, found = matrix.copy(), []
    for _ in range(matrix.shape[1]):
        row, column = np.unravel_index(int(np.argmax(np.abs(left))), left.shape)
        if abs(left[row, column]) < PIVOT:
            break
        found.append(int(row))
        left = left - np.outer(left[:, column], left[row] / left[row, column])
        left[row] = 0.0
        left[:, column] = 0.0
    return found


def first_independent(matrix: Vector) -> list[int]:
    """Give the rows of a matrix that are no combination of rows before them."""
    found: list[int] = []
    base = np.zeros((0, matrix.shape[1]))
    for number, row in enumerate(matrix):
        left = row - base.T @ (base @ row)
        left = left - base.T @ (base @ left)
        size = float(np.linalg.norm(left))
        if size > PIVOT * float(np.linalg.norm(row)):
            found.append(number)
            base = np.vstack((base, left / size))
    return found
