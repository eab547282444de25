"""What is varied: lists crossed, lists in step, and combinations that are left out."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping
from dataclasses import field

from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Matrix:
    """Values as written, by the name of what they are put in for; steps are written out.

    vary: each value with each of the others. together: lists of one length, their first values together, their second
    ones, and so on. without: combinations, told by some of their values, that are left out.
    """

    vary: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    together: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    without: tuple[Mapping[str, str], ...] = ()

    @property
    def lists(self) -> dict[str, tuple[str, ...]]:
        """Every varied name with its values, in the author's order."""
        return {**self.vary, **self.together}

    @property
    def most(self) -> int:
        """How many combinations there are before any is left out; 1 where nothing is varied."""
        in_step = min((len(values) for values in self.together.values()), default=1)
        return math.prod(len(values) for values in self.vary.values()) * in_step

    def alone(self) -> Iterator[list[dict[str, str]]]:
        """Give the values of each list by themselves; those that are in step together."""
        for name, values in self.vary.items():
            yield [{name: value} for value in values]
        if self.together:
            rows = zip(*self.together.values(), strict=True)
            yield [dict(zip(self.together, row, strict=True)) for row in rows]

    def having(self, values: Mapping[str, str]) -> Matrix:
        """Give the part of the matrix in which some names have these values."""
        vary = {
            name: (values[name],) if name in values else texts for name, texts in self.vary.items()
        }
        rows = [
            row
            for row in zip(*self.together.values(), strict=True)
            if all(
                values.get(name, text) == text
                for name, text in zip(self.together, row, strict=True)
            )
        ]
        together = dict(zip(self.together, zip(*rows, strict=True), strict=True)) if rows else {}
        return Matrix(vary, together, self.without)

    def combinations(self) -> Iterator[dict[str, str]]:
        """Give one combination after the other, the name that is written last changing soonest."""
        in_step = list(zip(*self.together.values(), strict=True)) or [()]
        for crossed in itertools.product(*self.vary.values()):
            for stepped in in_step:
                one = dict(zip(self.lists, (*crossed, *stepped), strict=True))
                if not any(left_out.items() <= one.items() for left_out in self.without):
                    yield one
