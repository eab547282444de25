"""One vehicle after the other into a timetable, each with the earliest end that those before it leave.

Placing one is exact: of each of its segments the start times that are free are intervals, and of all that reach the
next waiting place in one free stay there only the earliest matters.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence

from choreo.sharing.model import SAME_S, Interval, Order, Sharing, gaps_of, merged

# Least and most start of the segment that enters a place, and of the one that leaves it.
Window = tuple[float, float, float, float]
Times = dict[int, float]


class Placing:
    """The problem as whoever places one vehicle needs it.

    units: of each job the runs of segments that are placed at once, since they hold places between them.
    """

    def __init__(self, sharing: Sharing) -> None:
        self.sharing = sharing
        count = len(sharing.segments)
        self.apart: list[list[tuple[int, tuple[Interval, ...]]]] = [[] for _ in range(count)]
        for one in sharing.aparts:
            self.apart[one.second].append((one.first, one.forbidden))
            turned = tuple((-high, -low) for low, high in reversed(one.forbidden))
            self.apart[one.first].append((one.second, turned))
        self.orders: list[list[tuple[Order, bool]]] = [[] for _ in range(count)]
        held = set()
        for order in sharing.orders:
            for (enters, leaves), first in ((order.one, True), (order.other, False)):
                self.orders[enters].append((order, first))
                if leaves > enters:
                    held.add(enters)
        self.units: list[list[list[int]]] = []
        for chain in sharing.jobs:
            units: list[list[int]] = []
            for number in chain:
                if units and units[-1][-1] in held:
                    units[-1].append(number)
                else:
                    units.append([number])
            self.units.append(units)

    def place(self, unit: Sequence[int], ready_s: float, times: Times) -> tuple[float, ...]:
        """Give starts of a unit that ends as early as it can, each as late as that allows.

        times: of the segments that have their place. Raises ValueError where there is no room for it.
        """
        segments = self.sharing.segments
        reach: list[list[Interval]] = []
        windows: list[list[Window]] = []
        ways: list[Interval] = [(max(ready_s, segments[unit[0]].ready_s), math.inf)]
        for number in unit:
            free = _common(self._free(number, times), ways)
            if not free:
                raise ValueError("no room")
            reach.append(free)
            windows.append(self._windows(number, times))
            ways = []
            lasts = segments[number].lasts_s
            for low, high, least, most in windows[-1]:
                first = _earliest(free, low, high)
                if first is not None and first + lasts <= most:
                    ways.append((max(least, first + lasts), most))
            ways = _union(ways)
        starts = [reach[-1][0][0]]
        for index in range(len(unit) - 2, -1, -1):
            until = starts[0] - segments[unit[index]].lasts_s
            found = [
                _latest(reach[index], low, min(high, until))
                for low, high, least, most in windows[index]
                if least - SAME_S <= starts[0] <= most + SAME_S
            ]
            starts.insert(0, max(one for one in found if one is not None))
        return tuple(starts)

    def _free(self, number: int, times: Times) -> list[Interval]:
        taken = [
            (low + times[other], high + times[other])
            for other, forbidden in self.apart[number]
            if other in times
            for low, high in forbidden
        ]
        for order, first in self.orders[number]:
            user = self._user(order, first, times)
            if user is not None and (order.one if first else order.other)[1] == number:
                _, (low, high, _, _) = user
                taken.append((high, low))
        return gaps_of(merged(taken))

    def _windows(self, number: int, times: Times) -> list[Window]:
        """Between which of those that have it a segment enters a place that the next one leaves."""
        users = []
        for order, first in self.orders[number]:
            user = self._user(order, first, times)
            if user is not None and (order.one if first else order.other)[1] > number:
                users.append(user)
        users.sort()
        found = []
        for count in range(len(users) + 1):
            ahead, behind = users[:count], users[count:]
            window = (
                max((one[0] for _, one in ahead), default=-math.inf),
                min((one[1] for _, one in behind), default=math.inf),
                max((one[2] for _, one in ahead), default=-math.inf),
                min((one[3] for _, one in behind), default=math.inf),
            )
            if window[0] <= window[1] and window[2] <= window[3]:
                found.append(window)
        return found

    def _user(self, order: Order, first: bool, times: Times) -> tuple[float, Window] | None:
        """When the other one enters, and what is left behind it (least) and ahead of it (most)."""
        mine, theirs = (order.one, order.other) if first else (order.other, order.one)
        if theirs[0] not in times or theirs[1] not in times:
            return None
        behind, ahead = order.other_first, order.one_first
        if not first:
            behind, ahead = ahead, behind
        low, high, least, most = -math.inf, math.inf, -math.inf, math.inf
        for a, b, apart in behind:
            if b == mine[0]:
                low = max(low, times[a] + apart)
            else:
                least = max(least, times[a] + apart)
        for a, b, apart in ahead:
            if a == mine[0]:
                high = min(high, times[b] - apart)
            else:
                most = min(most, times[b] - apart)
        return times[theirs[0]], (low, high, least, most)


def _common(one: Sequence[Interval], other: Sequence[Interval]) -> list[Interval]:
    """What lies in an interval of both; each list in order."""
    found = []
    i = j = 0
    while i < len(one) and j < len(other):
        low, high = max(one[i][0], other[j][0]), min(one[i][1], other[j][1])
        if low <= high:
            found.append((low, high))
        if one[i][1] < other[j][1]:
            i += 1
        else:
            j += 1
    return found


def _union(intervals: list[Interval]) -> list[Interval]:
    found: list[Interval] = []
    for low, high in sorted(intervals):
        if found and low <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], high))
        else:
            found.append((low, high))
    return found


def _earliest(free: Sequence[Interval], low: float, high: float) -> float | None:
    index = bisect_left(free, low, key=lambda one: one[1])
    if index == len(free):
        return None
    first = max(free[index][0], low)
    return first if first <= high else None


def _latest(free: Sequence[Interval], low: float, high: float) -> float | None:
    # What was reached at the earliest is the latest there may be, up to rounding.
    index = bisect_right(free, high + SAME_S, key=lambda one: one[0]) - 1
    if index < 0:
        return None
    a, b = free[index]
    last = min(b, high)
    return last if max(a, low) <= last + SAME_S else None
