"""A timetable that breaks little is mended: vehicles are moved to where they break less, then all at once.

Where places and track are nearly full, vehicles put in one after the other leave no room for the last ones, though
there is some for all. So all are put in at once, evenly, none ending later than wished, and what they break is made
less by moves at random, fewer and fewer of which may make it worse. What then is left to choose, which vehicle is first
where, is taken as it is: a linear programme finds the times that end first with that, if there are any.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linprog
from scipy.sparse import coo_array

from choreo.sharing.model import SAME_S, Interval, Row, Sharing, Timetable, gaps_of
from choreo.words.records import dataclass

Array = NDArray[np.float64]

# From so many evenly spread beginnings the best are mended; moves of each, so many tried at once.
BEGINNINGS, MOVES, TRIED = 400, 4000, 16
# By how much more than now a vehicle may break its limits, s: at first, at last.
WARM, COLD = 2.0, 0.1
# Multiples of the bound by when all are to be done, one after the other.
WITHIN = (1.01, 1.03, 1.01)
# More segments than this take too long; those that break more than this share of the bound aren't mended.
MOST_SEGMENTS, MOST_BROKEN = 80, 0.025
# A timetable that ends within this multiple of the bound is good enough.
ENOUGH = 1.02


@dataclass(frozen=True, slots=True)
class _Broken:
    """What one vehicle breaks in some timetables, in s: whole, shape (timetables,), of each pair and of each order."""

    whole: Array
    pairs: Array
    orders: Array
    # Index of the forbidden interval's end above each pair's difference, and the difference there.
    above: NDArray[np.int64]
    at: Array


class _Vehicle:
    """Its segments, and all pairs and orders with those of others, as arrays."""

    def __init__(self, sharing: Sharing, chain: Sequence[int], ends: _Ends) -> None:
        self.first, self.count = chain[0], len(chain)
        mine = set(chain)
        pairs: list[tuple[int, int, int]] = []
        for one in sharing.aparts:
            if one.second in mine:
                pairs.append((one.second, one.first, ends.number(one.forbidden)))
            elif one.first in mine:
                turned = tuple((-high, -low) for low, high in reversed(one.forbidden))
                pairs.append((one.first, one.second, ends.number(turned)))
        self.pairs = np.array(pairs, dtype=np.int64).reshape(-1, 3)
        orders = [one for one in sharing.orders if one.one[0] in mine or one.other[0] in mine]
        self.orders = len(orders)
        self.rows = [
            _rows([one.one_first for one in orders]),
            _rows([one.other_first for one in orders]),
        ]


def _rows(orders: Sequence[Sequence[Row]]) -> tuple[NDArray[np.int64], Array]:
    """(order, first, second segment) of each row, and the least difference in s."""
    rows = [(n, a, b) for n, order in enumerate(orders) for a, b, _ in order]
    least = [c for order in orders for _, _, c in order]
    return np.array(rows, dtype=np.int64).reshape(-1, 3), np.array(least)


class _Ends:
    """Ends of forbidden intervals of all lists in one rising array: those of list n are shifted by n times `far`."""

    def __init__(self, far_s: float) -> None:
        self.far = far_s
        self.lists: dict[tuple[Interval, ...], int] = {}

    def number(self, forbidden: tuple[Interval, ...]) -> int:
        return self.lists.setdefault(forbidden, len(self.lists))

    def array(self) -> Array:
        near = 0.45 * self.far
        found: list[float] = [-0.5 * self.far] * 2
        for number, forbidden in enumerate(self.lists):
            for low, high in forbidden:
                found += [number * self.far + min(max(end, -near), near) for end in (low, high)]
        return np.array([*found, *[len(self.lists) * self.far] * 2])


class Mending:
    """All vehicles of a shared site, none of which may end later than until_s."""

    def __init__(self, sharing: Sharing, until_s: float) -> None:
        self.sharing = sharing
        self.until = until_s
        segments = sharing.segments
        self.lasts = np.array([one.lasts_s for one in segments])
        self.ready = np.array([one.ready_s for one in segments])
        ends = _Ends(6.0 * until_s + 1e4)
        self.vehicles = [_Vehicle(sharing, chain, ends) for chain in sharing.jobs]
        self.ends = ends.array()
        self.shift = ends.far

    def broken(self, vehicle: _Vehicle, starts_s: Array) -> _Broken:
        """What a vehicle breaks; starts_s: of shape (timetables, segments)."""
        mine, other, number = vehicle.pairs.T
        at = starts_s[:, mine] - starts_s[:, other] + number * self.shift
        above = np.searchsorted(self.ends, at)
        least = np.minimum(at - self.ends[above - 1], self.ends[above] - at)
        pairs = np.where(above % 2 == 1, least, 0.0)
        sides = []
        for rows, least_s in vehicle.rows:
            short = np.zeros((vehicle.orders, len(starts_s)))
            late = least_s + starts_s[:, rows[:, 1]] - starts_s[:, rows[:, 2]]
            np.maximum.at(short, rows[:, 0], late.T)
            sides.append(short.T)
        orders = np.minimum(*sides)
        return _Broken(pairs.sum(1) + orders.sum(1), pairs, orders, above, at)

    def all_broken(self, starts_s: Array) -> Array:
        """What each vehicle breaks, in s."""
        one = starts_s[None]
        return np.array([self.broken(vehicle, one).whole[0] for vehicle in self.vehicles])

    def beginnings(self, random: np.random.Generator, count: int) -> list[Array]:
        """Evenly spread vehicles that wait alike, those that break least first."""
        found: list[tuple[float, int, Array]] = []
        for _ in range(count):
            dense, waits = random.uniform(0.3, 1.0), random.random()
            starts = np.zeros(len(self.lasts))
            for number, vehicle in enumerate(self.vehicles):
                own = slice(vehicle.first, vehicle.first + vehicle.count)
                lasts, ready = self.lasts[own], self.ready[own.start]
                slack = max(self.until - ready - lasts.sum(), 0.0)
                start = slack * dense * number / max(len(self.vehicles) - 1, 1)
                wait = (slack - slack * dense) * waits / max(vehicle.count - 1, 1)
                begins = np.concatenate(([0.0], np.cumsum(lasts[:-1] + wait)))
                starts[own] = ready + start + begins
            found.append((float(self.all_broken(starts).sum()), len(found), starts))
        return [starts for _, _, starts in sorted(found)]

    def moved(self, starts_s: Array, random: np.random.Generator, moves: int) -> Array:
        """Give starts that break less, after so many moves."""
        now = starts_s
        costs = self.all_broken(now)
        best, least = now, float(costs.sum())
        for number in range(moves):
            heat = WARM * (COLD / WARM) ** (number / moves)
            weight = costs + 0.02 * costs.mean() + 1e-9
            index = int(random.choice(len(costs), p=weight / weight.sum()))
            tried = self._tried(self.vehicles[index], now, random)
            whole = self.broken(self.vehicles[index], tried).whole
            chance = np.exp((whole.min() - whole) / heat)
            chosen = int(random.choice(len(tried), p=chance / chance.sum()))
            now = tried[chosen]
            costs[index] = whole[chosen]
            if number % 20 == 19:
                costs = self.all_broken(now)
                if costs.sum() < least:
                    best, least = now, float(costs.sum())
                if least < SAME_S:
                    break
        return best

    def _tried(self, vehicle: _Vehicle, now: Array, random: np.random.Generator) -> Array:
        """As it is, and with some of its segments in a row moved."""
        seen = self.broken(vehicle, now[None])
        wrong, late = np.flatnonzero(seen.pairs[0]), np.flatnonzero(seen.orders[0])
        tried = np.repeat(now[None], TRIED + 1, 0)
        for row in tried[1:]:
            segment = int(random.integers(vehicle.count))
            by = float(random.normal()) * 10.0 ** random.uniform(-1.0, 1.7)
            if len(wrong) and random.random() < 0.6:
                pair = int(random.choice(wrong))
                segment = int(vehicle.pairs[pair, 0]) - vehicle.first
                end = seen.above[0, pair] - int(random.random() < 0.5)
                by = float(self.ends[end] - seen.at[0, pair])
                by += math.copysign(SAME_S, by)
            elif len(late) and random.random() < 0.5:
                by = math.copysign(float(seen.orders[0, random.choice(late)]) + SAME_S, by)
            kind = random.random()
            low = 0 if kind < 0.4 or 0.6 <= kind < 0.8 else segment
            high = vehicle.count if kind < 0.6 else segment + 1
            a, b = vehicle.first + low, vehicle.first + high
            row[a:b] += self._room(vehicle, now, a, b, by)
        return tried

    def _room(self, vehicle: _Vehicle, now: Array, a: int, b: int, by: float) -> float:
        """How far its segments from a to before b can move, by at most so much."""
        if by < 0.0:
            first = a == vehicle.first
            low = self.ready[a] if first else now[a - 1] + self.lasts[a - 1]
            return max(by, float(low - now[a]))
        last = b == vehicle.first + vehicle.count
        high = (self.until if last else now[b]) - self.lasts[b - 1]
        return min(by, float(high - now[b - 1]))

    def ended(self, starts_s: Array) -> Array | None:
        """Give the starts that end first with everybody where they are in turn; None where there are none."""
        count = len(self.lasts)
        low: list[tuple[int, int, float]] = []
        for chain in self.sharing.jobs:
            low += [(a, b, self.lasts[a]) for a, b in pairwise(chain)]
        for one in self.sharing.aparts:
            at = starts_s[one.second] - starts_s[one.first]
            least, most = _gap(one.forbidden, at)
            if math.isfinite(least):
                low.append((one.first, one.second, least))
            if math.isfinite(most):
                low.append((one.second, one.first, -most))
        for order in self.sharing.orders:
            sides = (order.one_first, order.other_first)
            low += min(
                sides, key=lambda rows: max(c + starts_s[a] - starts_s[b] for a, b, c in rows)
            )
        rows = np.repeat(np.arange(len(low) + count), 2)
        cols = [k for a, b, _ in low for k in (a, b)] + [
            k for n in range(count) for k in (n, count)
        ]
        values = [1.0, -1.0] * (len(low) + count)
        most_s = [-least for _, _, least in low] + [-one for one in self.lasts]
        matrix = coo_array((values, (rows, cols)), shape=(len(low) + count, count + 1)).tocsr()
        cost = np.full(count + 1, 1e-6)
        cost[-1] = 1.0
        bounds = [(ready, None) for ready in self.ready] + [(0.0, None)]
        solved = linprog(cost, A_ub=matrix, b_ub=most_s, bounds=bounds)
        return solved.x[:count] if solved.status == 0 else None


def _gap(forbidden: Sequence[Interval], at_s: float) -> Interval:
    """The gap between intervals in which a difference is, or the nearest to it."""
    return min(gaps_of(forbidden), key=lambda gap: max(gap[0] - at_s, at_s - gap[1]))


def mended(sharing: Sharing, bound_s: float) -> Timetable | None:
    """Give the best timetable that was found that way; None where none was, or where it isn't worth while."""
    if len(sharing.segments) > MOST_SEGMENTS or len(sharing.jobs) < 2:
        return None
    best: Timetable | None = None
    for number, within in enumerate(WITHIN):
        random = np.random.default_rng(number)
        mending = Mending(sharing, bound_s * within)
        starts = mending.beginnings(random, BEGINNINGS)[0]
        if mending.all_broken(starts).sum() > MOST_BROKEN * bound_s:
            continue
        found = mending.ended(mending.moved(starts, random, MOVES))
        if found is None or sharing.broken(found.tolist()):
            continue
        ends = sharing.ends_s(found.tolist())
        if best is None or ends < best.ends_s:
            best = Timetable(tuple(found.tolist()), ends, min(bound_s, ends), proved=False)
        if best.ends_s <= ENOUGH * bound_s:
            break
    return best
