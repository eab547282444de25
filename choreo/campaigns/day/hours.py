"""Working hours: windows of time between the start of a day, its pauses and its end, day after day."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property
from itertools import count

from choreo.words.records import dataclass

DAY_S = 86400.0
# What adds up to the end of a window within this is still in it.
ROUNDING_S = 1e-6


@dataclass(frozen=True)
class Hours:
    """From when to when a day's work goes, and its pauses, in s after midnight; every day alike.

    pauses: (from, to), in order, none touching another. Times of other calls count from the first day's midnight.
    """

    from_s: float
    to_s: float
    pauses: tuple[tuple[float, float], ...] = ()

    @cached_property
    def windows(self) -> tuple[tuple[float, float], ...]:
        """The stretches of one day in which work goes on."""
        starts = [self.from_s, *(to for _, to in self.pauses)]
        ends = [*(start for start, _ in self.pauses), self.to_s]
        both = zip(starts, ends, strict=True)
        return tuple((max(a, self.from_s), min(b, self.to_s)) for a, b in both if a < b)

    @property
    def longest_s(self) -> float:
        """The longest stretch without a pause."""
        return max((end - start for start, end in self.windows), default=0.0)

    def from_on(self, time_s: float) -> Iterator[tuple[int, float, float]]:
        """Give day (from 0), from and to of every window from a time on, without end; the first cut short."""
        for day in count(int(time_s // DAY_S)):
            midnight_s = day * DAY_S
            for start, end in self.windows:
                if end + midnight_s > time_s:
                    yield day, max(start + midnight_s, time_s), end + midnight_s

    def after_work(self, time_s: float, work_s: float) -> float:
        """Give when work that begins at a time is done: it stops in pauses and goes on after them."""
        left = work_s
        if left <= 0.0:
            return time_s
        for _, start, end in self.from_on(time_s):
            if start + left <= end + ROUNDING_S:
                return start + left
            left -= end - start
        raise AssertionError("days go on without end")

    def fits_at(self, time_s: float, length_s: float) -> float:
        """Give the earliest start from a time on at which so much fits before the next pause.

        Raises ValueError: it never fits.
        """
        if length_s > self.longest_s + ROUNDING_S:
            raise ValueError("longer than any stretch without a pause")
        for _, start, end in self.from_on(time_s):
            if start + length_s <= end + ROUNDING_S:
                return start
        raise AssertionError("days go on without end")
