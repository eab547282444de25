"""Numbers of which only bounds are known."""

from __future__ import annotations

import math

from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Bounds:
    """Some number from low to high."""

    low: float
    high: float

    @staticmethod
    def round(middle: float, off: float) -> Bounds:
        """Give what is no farther than `off` from a number."""
        return Bounds(middle - off, middle + off)

    @property
    def size(self) -> float:
        """The greatest magnitude."""
        return max(abs(self.low), abs(self.high))

    @property
    def negative(self) -> Bounds:
        """The same with the other sign."""
        return Bounds(-self.high, -self.low)

    def plus(self, other: Bounds) -> Bounds:
        """Give the sum."""
        return Bounds(self.low + other.low, self.high + other.high)

    def scaled(self, factor: float) -> Bounds:
        """Give so many times this."""
        ends = (factor * self.low, factor * self.high)
        return Bounds(min(ends), max(ends))

    def times(self, other: Bounds) -> Bounds:
        """Give the product."""
        ends = [one * two for one in (self.low, self.high) for two in (other.low, other.high)]
        return Bounds(min(ends), max(ends))

    @property
    def cos(self) -> Bounds:
        """The cosine of this angle in rad."""
        return Bounds(self.low + math.pi / 2, self.high + math.pi / 2).sin

    @property
    def sin(self) -> Bounds:
        """The sine of this angle in rad."""
        ends = (math.sin(self.low), math.sin(self.high))
        top = 1.0 if self._passes(math.pi / 2) else max(ends)
        bottom = -1.0 if self._passes(-math.pi / 2) else min(ends)
        return Bounds(bottom, top)

    def _passes(self, angle: float) -> bool:
        """Whether an angle, turned by any number of whole turns, is in it."""
        turn = 2.0 * math.pi
        first = math.ceil((self.low - angle) / turn)
        return angle + first * turn <= self.high


ONE = Bounds(1.0, 1.0)
