"""Rows of the linear problem: what must hold, in words that a person understands, with its place."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from choreo.linear.affine import Affine
from choreo.problem.linear import LinearProblem
from choreo.words.kinds import Unit
from choreo.words.origin import Origin
from choreo.words.records import dataclass

Array = NDArray[np.float64]

# What differs by less than this (m, s) is rounding.
ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Row:
    """lo <= expression <= hi; what is empty for a mere definition, unit of the expression."""

    expression: Affine
    lo: float
    hi: float
    what: str = ""
    unit: Unit = "m"
    origin: Origin | None = None


class Written:
    """Rows that are written as they are asked for: a proof needs few of them."""

    def __init__(self, rows: Iterable[Row]) -> None:
        self._left = iter(rows)
        self._known: list[Row] = []

    def __getitem__(self, index: int) -> Row:
        """Give one by number. Raises IndexError: there are fewer."""
        while len(self._known) <= index:
            row = next(self._left, None)
            if row is None:
                raise IndexError(index)
            self._known.append(row)
        return self._known[index]

    def __iter__(self) -> Iterator[Row]:
        self._known += self._left
        return iter(self._known)


def equal(
    left: Affine,
    right: Affine | float,
    what: str = "",
    unit: Unit = "s",
    origin: Origin | None = None,
) -> Row:
    """left = right."""
    return Row(left.minus(right), 0.0, 0.0, what, unit, origin)


def at_least(
    left: Affine,
    right: Affine | float,
    what: str = "",
    unit: Unit = "s",
    origin: Origin | None = None,
) -> Row:
    """left >= right."""
    return Row(left.minus(right), 0.0, math.inf, what, unit, origin)


# No time and no station of a run is as far as this (s, m): while something is not decided yet an unknown may be open.
FARTHEST = 1e7


@dataclass(frozen=True, eq=False)
class Block:
    """Rows as numbers: their unknowns, numbered; matrix of shape (rows, unknowns); both sides, constants taken off."""

    names: dict[str, int]
    matrix: Array
    lo: Array
    hi: Array

    def problem(self, more: Sequence[Row], cost: Affine) -> tuple[LinearProblem, dict[str, int]]:
        """Write the block and more rows as a linear problem; gives the numbers of its unknowns too."""
        names = unknowns_of(more, [cost], self.names)
        height, width = self.matrix.shape
        matrix = np.zeros((height + len(more), len(names)))
        matrix[:height, :width] = self.matrix
        lo, hi = _fill(matrix[height:], more, names)
        costs = np.zeros(len(names))
        for name, value in cost.terms.items():
            costs[names[name]] = value
        problem = LinearProblem(
            matrix,
            np.concatenate((self.lo, lo)),
            np.concatenate((self.hi, hi)),
            np.full(len(names), -FARTHEST),
            np.full(len(names), FARTHEST),
            costs,
        )
        return problem, names


def block_of(rows: Sequence[Row]) -> Block:
    """Write rows as numbers once, for all problems that have them."""
    names = unknowns_of(rows)
    matrix = np.zeros((len(rows), len(names)))
    return Block(names, matrix, *_fill(matrix, rows, names))


def _fill(matrix: Array, rows: Sequence[Row], names: Mapping[str, int]) -> tuple[Array, Array]:
    """Write the terms of rows into a matrix; gives both sides."""
    for numbers, row in zip(matrix, rows, strict=True):
        for name, value in row.expression.terms.items():
            numbers[names[name]] = value
    constants = np.array([row.expression.constant for row in rows])
    lo, hi = (np.array(side) for side in ([row.lo for row in rows], [row.hi for row in rows]))
    return lo - constants, hi - constants


def unknowns_of(
    rows: Sequence[Row],
    more: Sequence[Affine] = (),
    known: Mapping[str, int] = MappingProxyType({}),
) -> dict[str, int]:
    """Number the unknowns of rows and further expressions in the order in which they appear, after those known."""
    names = dict(known)
    for expression in [row.expression for row in rows] + list(more):
        for name in expression.terms:
            names.setdefault(name, len(names))
    return names
