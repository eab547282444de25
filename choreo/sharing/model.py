"""A shared site as runs without waiting, and which of them can't be when: what timetables are made of.

Each vehicle is a job: segments in their order, between which it may wait. Two segments can't have certain differences
of their starts (`Apart`); or of two that hold a place across a wait one comes first (`Order`). A job shop has one
segment an operation, one without waiting a segment a job.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cached_property
from itertools import pairwise

from choreo.words.records import dataclass

Interval = tuple[float, float]
# The start of the second segment less that of the first is at least so much; s.
Row = tuple[int, int, float]

# Differences that miss a forbidden interval by less than this (s) are its end.
SAME_S = 1e-6


@dataclass(frozen=True, slots=True)
class Segment:
    """A run without waiting: how long it takes, when it may begin at the earliest; s. job: of whom it is."""

    job: int
    lasts_s: float
    ready_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Apart:
    """Of two segments by index: what the start of the second less that of the first can't be, open intervals in s."""

    first: int
    second: int
    forbidden: tuple[Interval, ...]


@dataclass(frozen=True, slots=True)
class Order:
    """Two users of a place, one after the other, whichever first.

    one, other: the segments in which each enters and leaves it. one_first, other_first: the rows that hold then.
    """

    one: tuple[int, int]
    other: tuple[int, int]
    one_first: tuple[Row, ...]
    other_first: tuple[Row, ...]


@dataclass(frozen=True)
class Sharing:
    """Segments, those of a job one after the other, and what keeps them apart.

    kinds: of each job, the same for those that are alike in all that matters; none: nobody is known to be. implied: of
    orders by index, the first one's `one` first has the second one's `one` first.
    """

    segments: tuple[Segment, ...]
    aparts: tuple[Apart, ...]
    orders: tuple[Order, ...] = ()
    kinds: tuple[str, ...] = ()
    implied: tuple[tuple[int, int], ...] = ()

    @cached_property
    def jobs(self) -> tuple[tuple[int, ...], ...]:
        """Give the segments of each job, in their order."""
        found: dict[int, list[int]] = {}
        for number, one in enumerate(self.segments):
            found.setdefault(one.job, []).append(number)
        return tuple(tuple(one) for _, one in sorted(found.items()))

    def mirrored(self) -> Sharing:
        """Give the same backwards in time: starts become ends, their sign turned. Only where all are ready at once."""
        lasts = [one.lasts_s for one in self.segments]
        count = len(lasts)
        turned = [count - 1 - number for number in range(count)]
        jobs = len(self.jobs)
        segments = tuple(
            Segment(jobs - 1 - one.job, one.lasts_s) for one in reversed(self.segments)
        )
        aparts = []
        for one in self.aparts:
            more = lasts[one.first] - lasts[one.second]
            back = tuple((more - high, more - low) for low, high in reversed(one.forbidden))
            aparts.append(Apart(turned[one.first], turned[one.second], back))

        def rows(them: Sequence[Row]) -> tuple[Row, ...]:
            return tuple((turned[b], turned[a], c + lasts[b] - lasts[a]) for a, b, c in them)

        orders = [
            Order(
                (turned[one.one[1]], turned[one.one[0]]),
                (turned[one.other[1]], turned[one.other[0]]),
                rows(one.other_first),
                rows(one.one_first),
            )
            for one in self.orders
        ]
        return Sharing(segments, tuple(aparts), tuple(orders))

    def ends_s(self, starts_s: Sequence[float]) -> float:
        """Give when the last one ends."""
        return max(t + s.lasts_s for t, s in zip(starts_s, self.segments, strict=True))

    def broken(self, starts_s: Sequence[float], by_s: float = 1e-4) -> list[str]:
        """Say what start times break by more than by_s; nothing where they are a timetable."""
        found = []
        for chain in self.jobs:
            for number in chain:
                if starts_s[number] < self.segments[number].ready_s - by_s:
                    found.append(f"{number} is not ready")
            for a, b in pairwise(chain):
                if starts_s[b] < starts_s[a] + self.segments[a].lasts_s - by_s:
                    found.append(f"{b} begins before {a} ends")
        for one in self.aparts:
            d = starts_s[one.second] - starts_s[one.first]
            if any(low + by_s < d < high - by_s for low, high in one.forbidden):
                found.append(f"{one.first} and {one.second} are {d:.3f} s apart")
        for order in self.orders:
            if not any(
                all(starts_s[b] - starts_s[a] >= least - by_s for a, b, least in rows)
                for rows in (order.one_first, order.other_first)
            ):
                found.append(f"{order.one} and {order.other} hold a place at once")
        return found


@dataclass(frozen=True, slots=True)
class Timetable:
    """Start times in s by segment; ends_s: of the last one; bound_s: none ends sooner; proved: both are equal."""

    starts_s: tuple[float, ...]
    ends_s: float
    bound_s: float
    proved: bool


def merged(intervals: Sequence[Interval]) -> tuple[Interval, ...]:
    """Give the union of open intervals as disjoint ones, in order."""
    found: list[Interval] = []
    for low, high in sorted(intervals):
        if found and low < found[-1][1] - SAME_S:
            if high > found[-1][1]:
                found[-1] = (found[-1][0], high)
        elif high > low:
            found.append((low, high))
    return tuple(found)


def gaps_of(forbidden: Sequence[Interval]) -> list[Interval]:
    """Give what is left between disjoint intervals, the ends included."""
    ends = [-math.inf, *(one for pair in forbidden for one in pair), math.inf]
    return [(ends[i], ends[i + 1]) for i in range(0, len(ends), 2)]
