"""Multipliers of rows: they combine rows to a cost, and their sides to a bound of it.

Source: any text on linear programming, under duality; from memory.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from choreo.linear.affine import Affine
from choreo.linear.elimination import PIVOT, Elimination, elimination_of
from choreo.linear.rows import Row
from choreo.linear.search import LinearSolver
from choreo.problem.linear import LinearProblem, Vector
from choreo.words.records import dataclass

# A multiplier that is less is rounding of the linear solver.
TINY = 1e-9
# Multipliers combine rows to a cost; what they miss it by, as a share of what they add up, is rounding.
ROUNDING = 1e-11

# A row of a node: which part of it (see `Again._part`), and the row's number there.
Place = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Proof:
    """Rows whose multipliers bound a cost from below; beyond: the side (+1 above, -1 below) of a row that can't hold,
    None where it is the cost of the search.

    names: of all unknowns, numbered. way: how the multipliers follow from what the rows say of these; cells: of each
    row the places there of its numbers.
    """

    places: tuple[Place, ...]
    names: Mapping[str, int]
    way: Elimination
    cells: tuple[Mapping[str, int], ...]
    row: Place | None = None
    beyond: float = 0.0


def bound_of(proof: Proof, rows: Sequence[Row], cost: Affine) -> float:
    """Give what a cost is at least, by the multipliers that combine a proof's rows to it; -inf where none do."""
    numbers, sides = [0.0] * proof.way.size, [0.0] * len(proof.names)
    terms = [row.expression.terms for row in rows]
    for cells, one in zip(proof.cells, terms, strict=True):
        for name, value in one.items():
            if name in cells:
                numbers[cells[name]] = value
    missed, sizes = dict.fromkeys(proof.names, 0.0), dict.fromkeys(proof.names, 0.0)
    try:
        for name, value in cost.terms.items():
            sides[proof.names[name]] = value
            missed[name], sizes[name] = -value, abs(value)
        signed = proof.way.solve(numbers, sides)
        for y, one in zip(signed, terms, strict=True):
            for name, value in one.items():
                part = y * value
                missed[name] += part
                sizes[name] += part if part >= 0.0 else -part
    except (KeyError, ZeroDivisionError):
        return -math.inf
    # Whatever the multipliers were worked out from, they have to combine the rows to the cost.
    if not all(abs(missed[name]) <= ROUNDING * size for name, size in sizes.items()):
        return -math.inf
    total = cost.constant
    for y, row in zip(signed, rows, strict=True):
        side = row.lo if y > 0.0 else row.hi
        if not math.isfinite(side):
            if abs(y) > ROUNDING:
                return -math.inf
            continue
        total += y * (side - row.expression.constant)
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
    places: Sequence[Place], rows: Sequence[Row], names: Iterable[str], signed: Vector
) -> Proof | None:
    """Give the rows that count and how their multipliers follow from them; None where these don't."""
    used = np.flatnonzero(np.abs(signed) > TINY).tolist()
    terms = [rows[one].expression.terms for one in used]
    met = {name for one in terms for name in one}
    numbers = {name: number for number, name in enumerate(name for name in names if name in met)}
    said: list[dict[int, float]] = [{} for _ in numbers]
    for column, one in enumerate(terms):
        for name, value in one.items():
            said[numbers[name]][column] = value
    way = elimination_of(said, len(used))
    if way is None:
        return None
    cells = tuple(
        {name: way.places[numbers[name], column] for name in one}
        for column, one in enumerate(terms)
    )
    return Proof(tuple(places[one] for one in used), numbers, way, cells)


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
