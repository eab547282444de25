"""Ranges of numbers with two ends."""

from __future__ import annotations

import math
from numbers import Integral
from typing import Literal, assert_never

from choreo.words.records import dataclass

# One end of a span, or both as one value.
SpanEnd = Literal["", "lo", "hi"]


@dataclass(frozen=True, slots=True)
class Span:
    """A closed range in SI; equal ends are a value, infinite ends are open (`free`).

    Its ends are floats, since a problem takes its floats for numbers and its ints for structure. Raises TypeError for
    whole numbers. (The solver puts symbols in place of the floats.)
    """

    lo: float
    hi: float

    def __post_init__(self) -> None:
        if isinstance(self.lo, Integral) or isinstance(self.hi, Integral):
            raise TypeError(f"the ends of a span are floats, not {self.lo!r} and {self.hi!r}")

    @classmethod
    def at(cls, value: float) -> Span:
        """Give the span of one value."""
        return cls(value, value)

    @property
    def fixed(self) -> bool:
        return self.lo == self.hi

    @property
    def middle(self) -> float:
        """A finite value inside: the middle of both ends, or the one that is finite, or 0."""
        if math.isfinite(self.lo) and math.isfinite(self.hi):
            return (self.lo + self.hi) / 2
        if math.isfinite(self.lo):
            return self.lo
        return self.hi if math.isfinite(self.hi) else 0.0

    def with_end(self, end: SpanEnd, value: float) -> Span:
        """Give the span with one end, or both, at a value."""
        match end:
            case "":
                return Span(value, value)
            case "lo":
                return Span(value, self.hi)
            case "hi":
                return Span(self.lo, value)
        assert_never(end)


FREE = Span(-math.inf, math.inf)
# Of what has no speed.
NONE = Span(0.0, 0.0)
