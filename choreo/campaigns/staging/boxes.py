"""Boxes of start stations, and the fewest points that hit them all.

Boxes with parallel sides that meet pairwise have a point in common (Helly), and one whose every coordinate is the
largest of their least ones: so only such points need be looked at. Source: Helly 1923; from memory.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from choreo.campaigns.staging.cover import least_cover
from choreo.words.records import dataclass

# More points than this are not looked at: then only the bound by boxes that don't meet is told.
MOST_POINTS = 4000
# What is no wider (m) is one station: ends of ranges are known no better.
JUST_M = 4e-5


@dataclass(frozen=True, slots=True)
class Interval:
    """Stations from lo to hi, both included, in m."""

    lo: float
    hi: float

    def just(self, station_m: float) -> bool:
        """Whether it is this station and hardly any other."""
        return self.hi - self.lo <= JUST_M and self.lo - JUST_M <= station_m <= self.hi + JUST_M


# The range of each mover's start station, by mover.
Box = Mapping[str, Interval]


def at_least(boxes: Sequence[Box]) -> int:
    """Give a number of points below which none hit every box; the least such number while that is quickly known."""
    groups = _meeting(boxes)
    apart = _apart(boxes)
    if groups is None:
        return apart
    cover = least_cover(groups)
    return max(cover.at_least, apart)


def common(boxes: Sequence[Box]) -> Box | None:
    """Give what boxes of the same movers have in common, None where that is nothing."""
    shared: dict[str, Interval] = dict(boxes[0])
    for box in boxes[1:]:
        for name, interval in box.items():
            mine = shared[name]
            shared[name] = Interval(max(mine.lo, interval.lo), min(mine.hi, interval.hi))
    empty = any(interval.lo > interval.hi for interval in shared.values())
    return None if empty else shared


def meeting_at(intervals: Mapping[int, Interval]) -> list[frozenset[int]]:
    """Give the largest sets of intervals that have a station in common."""
    groups: list[frozenset[int]] = []
    for at in sorted({one.lo for one in intervals.values()}):
        group = frozenset(index for index, one in intervals.items() if one.lo <= at <= one.hi)
        groups = [one for one in groups if not one <= group]
        if not any(group <= one for one in groups):
            groups.append(group)
    return groups


def _meeting(boxes: Sequence[Box]) -> list[frozenset[int]] | None:
    """All largest sets of boxes that have a point in common; None where there are too many to look at."""
    groups = [frozenset(range(len(boxes)))]
    for name in boxes[0] if boxes else ():
        finer: set[frozenset[int]] = set()
        for group in groups:
            finer.update(meeting_at({index: boxes[index][name] for index in sorted(group)}))
            if len(finer) > MOST_POINTS:
                return None
        groups = sorted(finer, key=sorted)
    return groups


def _apart(boxes: Sequence[Box]) -> int:
    """Boxes of which no two meet, taken as they end along the first mover's stations: each needs its own point."""
    chosen: list[Box] = []
    for box in sorted(boxes, key=lambda one: [interval.hi for interval in one.values()]):
        if all(common((box, other)) is None for other in chosen):
            chosen.append(box)
    return len(chosen)
