"""One pattern for all that are alike: they stand equally long at every stop, so that only their starts differ.

Where a place is used again and again, whoever is put in first is in everybody's way: then a pattern that leaves room
for the others ends sooner than the shortest run. What two such vehicles can't have is one list of differences.
"""

from __future__ import annotations

import math
import random
from bisect import bisect_right
from collections.abc import Sequence
from itertools import accumulate

import numpy as np
from numpy.typing import NDArray

from choreo.sharing.model import SAME_S, Row, Sharing, Timetable
from choreo.sharing.search import PROVED

Array = NDArray[np.float64]
# Of two kinds: ends of disjoint open intervals.
Known = dict[tuple[int, int], tuple[list[float], list[float]]]
# Longer by this, s, at every stop alike: where the search begins.
STEP_S, STEPS = 2.0, 120
# From so many of these it goes on; how much worse than now one may be to be kept, as a share: at first, at last.
ROUNDS = 4
WARM, COLD = 0.02, 0.0005
# Work: a look at a forbidden difference. A vehicle put in counts as so many.
PLACED_LOOKS = 60
# So often vehicles are tried later, until a timetable ends within this multiple of the bound.
LATER, ENOUGH = 3000, 1.02
# So many looks are spent.
MOST_LOOKS = 6_000_000


class _Between:
    """Of a vehicle of one kind and one of another: what the start of the second less that of the first can't be."""

    def __init__(self, sharing: Sharing, one: int, other: int) -> None:
        mine = {number: k for k, number in enumerate(sharing.jobs[one])}
        theirs = {number: k for k, number in enumerate(sharing.jobs[other])}
        found = [
            (mine[apart.first], theirs[apart.second], low, high)
            for apart in sharing.aparts
            if apart.first in mine and apart.second in theirs
            for low, high in apart.forbidden
        ]
        self.first, self.second = (np.array([row[n] for row in found], dtype=int) for n in (0, 1))
        self.low, self.high = (np.array([row[n] for row in found]) for n in (2, 3))
        orders = [row for row in sharing.orders if row.one[0] in mine and row.other[0] in theirs]
        self.orders = len(orders)
        self.late = _rows([row.one_first for row in orders], mine, theirs)
        self.early = _rows([row.other_first for row in orders], theirs, mine)

    @property
    def looks(self) -> int:
        """How many differences are looked at."""
        return len(self.low) + len(self.late[0]) + len(self.early[0])

    def forbidden(self, one_s: Array, other_s: Array) -> tuple[list[float], list[float]]:
        """Give ends of disjoint open intervals in s; one_s, other_s: when segments begin after the vehicle's start."""
        shift = one_s[self.first] - other_s[self.second]
        low, high = self.low + shift, self.high + shift
        if self.orders:
            late, early = np.full(self.orders, -math.inf), np.full(self.orders, -math.inf)
            for rows, least, a_s, b_s in (
                (self.late, late, one_s, other_s),
                (self.early, early, other_s, one_s),
            ):
                order, a, b, apart = rows
                np.maximum.at(least, order, apart + a_s[a] - b_s[b])
            low, high = np.concatenate((low, -early)), np.concatenate((high, late))
        real = high > low
        low, high = low[real], high[real]
        if not len(low):
            return [], []
        rising = np.argsort(low)
        low, high = low[rising], np.maximum.accumulate(high[rising])
        begins = np.flatnonzero(np.append(True, low[1:] >= high[:-1] - SAME_S))
        return low[begins].tolist(), high[np.append(begins[1:] - 1, len(high) - 1)].tolist()


def _rows(
    orders: Sequence[Sequence[Row]], mine: dict[int, int], theirs: dict[int, int]
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.int64], Array]:
    rows = [(n, mine[a], theirs[b], c) for n, order in enumerate(orders) for a, b, c in order]
    order, a, b = (np.array([row[n] for row in rows], dtype=np.int64) for n in range(3))
    return order, a, b, np.array([row[3] for row in rows])


class _Pattern:
    """Everybody, with the waits of each kind: (kind, segment) by number."""

    def __init__(self, sharing: Sharing) -> None:
        self.sharing = sharing
        kinds = list(dict.fromkeys(sharing.kinds))
        self.kinds = [kinds.index(one) for one in sharing.kinds]
        members = [[j for j, kind in enumerate(self.kinds) if kind == k] for k in range(len(kinds))]
        self.lasts = [
            np.array([sharing.segments[n].lasts_s for n in sharing.jobs[jobs[0]]])
            for jobs in members
        ]
        self.ready = [sharing.segments[chain[0]].ready_s for chain in sharing.jobs]
        self.between: dict[tuple[int, int], _Between] = {}
        for a, mine in enumerate(members):
            for b, theirs in enumerate(members[a:], a):
                pair = (mine[0], theirs[0] if a != b else mine[-1])
                if pair[0] < pair[1]:
                    self.between[a, b] = _Between(sharing, *pair)
        waits = [(k, n) for k, lasts in enumerate(self.lasts) for n in range(len(lasts) - 1)]
        self.waits = waits
        looks = sum(one.looks for one in self.between.values())
        self.looks = 200 + looks + PLACED_LOOKS * len(self.kinds) ** 2

    def begins(self, waits_s: Sequence[float]) -> list[Array]:
        """Give when segments of each kind begin after its start, s."""
        longer = [np.zeros(len(lasts)) for lasts in self.lasts]
        for (kind, n), wait in zip(self.waits, waits_s, strict=True):
            longer[kind][n] = wait
        return [
            np.array(list(accumulate((lasts + more)[:-1], initial=0.0)))
            for lasts, more in zip(self.lasts, longer, strict=True)
        ]

    def forbidden(self, begins: Sequence[Array]) -> Known:
        """Give of two kinds what the start of the second less that of the first can't be."""
        known = {
            (a, b): one.forbidden(begins[a], begins[b]) for (a, b), one in self.between.items()
        }
        for (a, b), (low, high) in list(known.items()):
            known[b, a] = ([-h for h in reversed(high)], [-h for h in reversed(low)])
        return known

    def starts(self, known: Known, late_s: Sequence[float] = ()) -> list[float]:
        """Give the start in s of each vehicle, in their order as early as those before it leave, or so much later."""
        found: list[float] = []
        last: dict[int, float] = {}
        late = late_s or [0.0] * len(self.kinds)
        for kind, ready, more in zip(self.kinds, self.ready, late, strict=True):
            # Of those that are alike none comes before the one written first.
            t = self._fit(known, kind, found, max(ready, last.get(kind, -math.inf)))
            if more:
                t = self._fit(known, kind, found, t + more)
            found.append(t)
            last[kind] = t
        return found

    def _fit(self, known: Known, kind: int, starts: Sequence[float], t: float) -> float:
        moved = True
        while moved:
            moved = False
            for other, start in zip(self.kinds, starts, strict=False):
                low, high = known[other, kind]
                index = bisect_right(low, t - start - SAME_S) - 1
                if index >= 0 and t - start < high[index] - SAME_S:
                    t, moved = start + high[index], True
        return t

    def roomiest(self) -> list[float]:
        """Give waits, found stop by stop, with which those alike can't have the least: they meet where they met before.

        On a circuit each then is away for whole laps, and keeps its place among the others.
        """
        waits = [0.0] * len(self.waits)
        for steps in (range(0, 120, 4), range(-8, 9)):
            for at in range(len(waits)):
                tried = []
                for step in steps:
                    more = list(waits)
                    more[at] = max(waits[at] + 0.5 * step, 0.0) if min(steps) < 0 else float(step)
                    found = self.forbidden(self.begins(more))
                    whole = sum(math.fsum(high) - math.fsum(low) for low, high in found.values())
                    tried.append((whole, more[at]))
                waits[at] = min(tried)[1]
        return waits

    def ends_s(self, begins: Sequence[Array], starts_s: Sequence[float]) -> float:
        """Give when all are done."""
        lasts = [float(b[-1] + lasts[-1]) for b, lasts in zip(begins, self.lasts, strict=True)]
        return max(t + lasts[kind] for t, kind in zip(starts_s, self.kinds, strict=True))


def patterned(sharing: Sharing, bound_s: float, most_looks: int = MOST_LOOKS) -> Timetable | None:
    """Give the best timetable of one pattern a kind that was found; None where nobody is like another or waits."""
    kinds = set(sharing.kinds)
    if not kinds or len(kinds) == len(sharing.kinds) or len(sharing.jobs) == len(sharing.segments):
        return None
    pattern = _Pattern(sharing)

    def tried(waits: Sequence[float]) -> tuple[float, tuple[float, ...]]:
        begins = pattern.begins(waits)
        return pattern.ends_s(begins, pattern.starts(pattern.forbidden(begins))), tuple(waits)

    tries = max(most_looks // pattern.looks, STEPS)
    first = sorted(tried([STEP_S * n] * len(pattern.waits)) for n in range(STEPS))
    random_ = random.Random(1)
    best = first[0]
    for now in first[:ROUNDS]:
        for number in range(max(tries - STEPS, 0) // ROUNDS):
            if best[0] <= bound_s * (1.0 + PROVED / 10.0):
                break
            heat = WARM * (COLD / WARM) ** (number * ROUNDS / tries)
            new = tried(_changed(now[1], random_))
            if new[0] <= now[0] or random_.random() < math.exp((now[0] - new[0]) / now[0] / heat):
                now = new
            best = min(best, new)
    found: list[tuple[float, list[float], list[Array]]] = []
    some = [best[1], tuple(pattern.roomiest()), *(waits for _, waits in first[:ROUNDS])]
    for waits in dict.fromkeys(some):
        if not found or min(one[0] for one in found) > bound_s * ENOUGH:
            begins = pattern.begins(waits)
            found.append((*_later(pattern, begins, random_), begins))
    ends, starts, begins = min(found, key=lambda one: one[0])
    all_s = [0.0] * len(sharing.segments)
    for chain, kind, start in zip(sharing.jobs, pattern.kinds, starts, strict=True):
        for number, after in zip(chain, begins[kind], strict=True):
            all_s[number] = start + float(after)
    ends = sharing.ends_s(all_s)
    bound = min(bound_s, ends)
    return Timetable(tuple(all_s), ends, bound, ends - bound <= PROVED * max(ends, 1.0))


def _later(
    pattern: _Pattern, begins: Sequence[Array], random_: random.Random
) -> tuple[float, list[float]]:
    """Give when all are done, and starts, with some vehicles later than they could be, so that those behind fit in."""
    known = pattern.forbidden(begins)
    late = [0.0] * len(pattern.kinds)
    starts = pattern.starts(known)
    best = pattern.ends_s(begins, starts), starts
    alone = min(float(b[-1] + lasts[-1]) for b, lasts in zip(begins, pattern.lasts, strict=True))
    cost = math.inf
    for _ in range(LATER):
        new = list(late)
        index = random_.randrange(len(late))
        new[index] = 0.0 if random_.random() < 0.4 else random_.expovariate(1.0 / 60.0)
        starts = pattern.starts(known, new)
        ends = pattern.ends_s(begins, starts)
        costs = ends - alone + 0.05 * math.fsum(starts) / len(starts)
        if costs <= cost * (1.0 + 0.02 * random_.random() ** 3):
            late, cost = new, costs
        if ends < best[0]:
            best = ends, starts
    return best


def _changed(waits_s: Sequence[float], random_: random.Random) -> list[float]:
    """All waits, those from one on, or one of them longer or shorter; or one as it has to be."""
    waits = list(waits_s)
    at = random_.randrange(len(waits))
    what = random_.random()
    if what < 0.3:
        more = random_.gauss(0.0, 3.0)
        return [max(one + more, 0.0) for one in waits]
    if what < 0.5:
        more = random_.gauss(0.0, 8.0)
        return [max(one + more, 0.0) if n >= at else one for n, one in enumerate(waits)]
    if what < 0.7:
        waits[at] = 0.0 if random_.random() < 0.5 else random_.expovariate(1.0 / 60.0)
    else:
        waits[at] = max(waits[at] + random_.gauss(0.0, 8.0), 0.0)
    return waits
