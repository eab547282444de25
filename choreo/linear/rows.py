"""Rows of the linear problem: what must hold, in words that a person understands, with its place."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from choreo.linear.affine import Affine
from choreo.problem.linear import LinearProblem
from choreo.words.kinds import Unit
from choreo.words.origin import Origin

# What differs by less than this (m, s) is rounding.
ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Row:
    """lo <= expression <= hi; what is empty for a mere definition, unit m or s."""

    expression: Affine
    lo: float
    hi: float
    what: str = ""
    unit: Unit = "m"
    origin: Origin | None = None


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


def linear_problem(rows: Iterable[Row], names: dict[str, int], cost: Affine) -> LinearProblem:
    """Write rows as a linear problem over the unknowns in `names`."""
    kept = list(rows)
    matrix = np.zeros((len(kept), len(names)))
    for index, row in enumerate(kept):
        for name, value in row.expression.terms.items():
            matrix[index, names[name]] = value
    constants = np.array([row.expression.constant for row in kept])
    costs = np.zeros(len(names))
    for name, value in cost.terms.items():
        costs[names[name]] = value
    return LinearProblem(
        matrix,
        np.array([row.lo for row in kept]) - constants,
        np.array([row.hi for row in kept]) - constants,
        np.full(len(names), -FARTHEST),
        np.full(len(names), FARTHEST),
        costs,
    )


def unknowns_of(rows: Sequence[Row], more: Sequence[Affine] = ()) -> dict[str, int]:
    """Number the unknowns of rows and further expressions, in the order in which they appear."""
    names: dict[str, int] = {}
    for expression in [row.expression for row in rows] + list(more):
        for name in expression.terms:
            names.setdefault(name, len(names))
    return names
