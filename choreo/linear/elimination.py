"""Linear equations of one pattern, solved again with other numbers.

Which number is taken from which is worked out once, with pivots that leave most zeros what they are. Rows of a plan
have a few unknowns each: they are solved in some tens of steps, far fewer than a dense matrix takes.
Source: Markowitz 1957 (pivots); from memory.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from choreo.words.records import dataclass

# A pivot is no less than this share of the largest number of its unknown, and than PIVOT.
SHARE = 0.1
PIVOT = 1e-7

# Where a number stands: of which equation, with which unknown.
Cell = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Step:
    """One unknown eliminated.

    pivot: its number in its own equation. below: of each other equation that has it the place of that, and what is
    taken from there, as (from, what). rest: the other unknowns of its own equation, with their places.
    """

    equation: int
    unknown: int
    pivot: int
    below: tuple[tuple[int, int, tuple[tuple[int, int], ...]], ...]
    rest: tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class Elimination:
    """How equations are solved. places: of numbers in a list; size: how long that is; unknowns: how many there are."""

    places: Mapping[Cell, int]
    size: int
    unknowns: int
    steps: tuple[Step, ...]

    def solve(self, numbers: list[float], sides: list[float]) -> list[float]:
        """Give the unknowns. numbers, sides: in their places and by equation, both used up.

        Raises ZeroDivisionError: a pivot that is none with these numbers.
        """
        for step in self.steps:
            pivot, side = numbers[step.pivot], sides[step.equation]
            for equation, place, taken in step.below:
                share = numbers[place] / pivot
                for at, what in taken:
                    numbers[at] -= share * numbers[what]
                sides[equation] -= share * side
        found = [0.0] * self.unknowns
        for step in reversed(self.steps):
            left = sides[step.equation]
            for place, other in step.rest:
                left -= numbers[place] * found[other]
            found[step.unknown] = left / numbers[step.pivot]
        return found


def elimination_of(equations: Sequence[Mapping[int, float]], unknowns: int) -> Elimination | None:
    """Work out how equations like these are solved, of which there may be more than unknowns; None where they can't be.

    equations: of each the numbers of its unknowns, numbered from 0.
    """
    left = {at: dict(one) for at, one in enumerate(equations)}
    places = {(at, one): 0 for at, row in left.items() for one in row}
    places = {cell: place for place, cell in enumerate(places)}
    steps: list[Step] = []
    for _ in range(unknowns):
        cell = _pivot(left)
        if cell is None:
            return None
        equation, unknown = cell
        own = left.pop(equation)
        rest = [one for one in own if one != unknown]
        below = []
        for at, row in left.items():
            if unknown not in row:
                continue
            share = row.pop(unknown) / own[unknown]
            for one in rest:
                places.setdefault((at, one), len(places))
                row[one] = row.get(one, 0.0) - share * own[one]
            taken = tuple((places[at, one], places[equation, one]) for one in rest)
            below.append((at, places[at, unknown], taken))
        others = tuple((places[equation, one], one) for one in rest)
        steps.append(Step(equation, unknown, places[cell], tuple(below), others))
    needed = [
        replace(step, below=tuple(one for one in step.below if one[0] not in left))
        for step in steps
    ]
    return Elimination(places, len(places), unknowns, tuple(needed))


def _pivot(left: Mapping[int, Mapping[int, float]]) -> Cell | None:
    """The number that leaves most zeros among those that are large enough."""
    largest: dict[int, float] = {}
    count: dict[int, int] = {}
    for row in left.values():
        for one, value in row.items():
            largest[one] = max(largest.get(one, 0.0), abs(value))
            count[one] = count.get(one, 0) + 1
    able = [
        ((len(row) - 1) * (count[one] - 1), -abs(value), at, one)
        for at, row in left.items()
        for one, value in row.items()
        if abs(value) >= max(SHARE * largest[one], PIVOT)
    ]
    return min(able)[2:] if able else None
