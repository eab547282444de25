"""How a plan follows from the rows whose sides it keeps: a neighbour's follows from the same ones."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from choreo.linear.elimination import Elimination, elimination_of
from choreo.linear.multipliers import first_independent
from choreo.linear.records import HOLDS
from choreo.linear.rows import Row, block_of
from choreo.linear.spots import Values
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Following:
    """As many rows as there are unknowns (names).

    rows: by number, whether the plan keeps their upper side, and the places of their numbers in the way.
    """

    names: tuple[str, ...]
    way: Elimination
    rows: tuple[tuple[int, bool, Mapping[str, int]], ...]

    def values(self, rows: Sequence[Row]) -> Values:
        """Give the plan that keeps the sides of a neighbour's rows.

        Raises KeyError, IndexError or ZeroDivisionError: those have other unknowns, are fewer, or leave it open.
        """
        numbers, sides = [0.0] * self.way.size, []
        for number, upper, cells in self.rows:
            row = rows[number]
            for name, value in row.expression.terms.items():
                numbers[cells[name]] = value
            sides.append((row.hi if upper else row.lo) - row.expression.constant)
        return dict(zip(self.names, self.way.solve(numbers, sides), strict=True))


def following_of(rows: Sequence[Row], tangents: Sequence[Row], values: Values) -> Following | None:
    """Give how a plan follows from straight rows and tangents of curves, numbered in this order; None where it doesn't.

    values: of the plan.
    """
    every = [*rows, *tangents]
    block = block_of(every)
    names = tuple(block.names)
    if any(name not in values for name in names):
        return None
    reached = block.matrix @ np.array([values[name] for name in names])
    upper = np.abs(block.hi - reached) < np.abs(block.lo - reached)
    off = np.abs(np.where(upper, block.hi, block.lo) - reached)
    kept = np.flatnonzero(off <= HOLDS)
    # Curves first, then what is an equation: those hold for neighbours too.
    order = sorted(kept.tolist(), key=lambda row: (row < len(rows), block.lo[row] != block.hi[row]))
    used = [order[row] for row in first_independent(block.matrix[order])]
    terms = [every[one].expression.terms for one in used]
    said = [{block.names[name]: value for name, value in one.items()} for one in terms]
    way = elimination_of(said, len(names)) if len(used) == len(names) else None
    if way is None:
        return None
    cells = (
        {name: way.places[at, block.names[name]] for name in one} for at, one in enumerate(terms)
    )
    return Following(
        names, way, tuple(zip(used, (bool(upper[row]) for row in used), cells, strict=True))
    )
