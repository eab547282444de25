"""Which differences of starts two legs can't have: who would be nearer behind the other one than the headway."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from choreo.sharing.driving import Array, Gap, Leg, Pass, Table
from choreo.sharing.model import SAME_S, Interval

# Stretches are looked at this often (m); what is between two looks is bounded.
STEP_M = 2.0
# Differences of starts of laps that are nearer than this (s) are one.
ALIKE_S = 1e-7


def forbidden_between(
    one: Leg, other: Leg, gap: Gap, single: frozenset[str]
) -> tuple[Interval, ...]:
    """Give what the start of `other` less that of `one` can't be, in s, as disjoint open intervals.

    Of excursions it looks at those that both drive from end to end in the leg; for others see `orders_between`.
    """
    found: list[Array] = []
    for first, starts in one.kinds:
        for second, begins in other.kinds:
            shifts = np.unique(np.round((starts[:, None] - begins[None, :]) / ALIKE_S)) * ALIKE_S
            for stretch in first.parts.keys() & second.parts.keys():
                if first.has(stretch) and second.has(stretch):
                    if stretch in single:
                        low, high = _single(first, second, stretch)
                    else:
                        low = -_behind(second, first, stretch, gap)
                        high = _behind(first, second, stretch, gap)
                    found.append(np.column_stack((low + shifts, high + shifts)))
            for low, high in _appearing(first, second, gap):
                found.append(np.column_stack((low + shifts, high + shifts)))
            for low, high in _appearing(second, first, gap):
                found.append(np.column_stack((shifts - high, shifts - low)))
    return _union(np.concatenate(found)) if found else ()


def _appearing(ahead: Table, behind: Table, gap: Gap) -> Iterator[Interval]:
    """Who comes onto the main path is suddenly there: not while somebody comes along it and is nearer than the gap.

    That one may be on any stretch of it before that place, whether it comes there or turns off before.
    """
    farthest = float(gap.at(behind.fastest_mps)) + STEP_M
    for way, station in ahead.appears:
        gone = way + ahead.turns_off(way)[0] + gap.room_m
        for low, high, begins in behind.mains:
            left = (station - begins - (high - low) + 1e-6) % ahead.main_m
            if left >= farthest:
                continue
            ways, goals = _goals(behind, low, high, gap)
            near = goals > high + left
            if near.any():
                goals = np.minimum(way + goals[near] - high - left, gone)
                late = float((ahead.passes(goals) - behind.time(ways[near])).max())
                until = float(np.append(ways[1:], high)[near].max())
                yield float(ahead.time(np.array(way))) - float(behind.time(np.array(until))), late


def _union(pairs: Array) -> tuple[Interval, ...]:
    """The union of many open intervals, rows of shape (n, 2), as disjoint ones in order."""
    pairs = pairs[pairs[:, 1] > pairs[:, 0]]
    pairs = pairs[np.argsort(pairs[:, 0])]
    if not len(pairs):
        return ()
    reach = np.maximum.accumulate(pairs[:, 1])
    begins = np.concatenate(([True], pairs[1:, 0] >= reach[:-1] - SAME_S))
    lasts = np.append(np.flatnonzero(begins)[1:] - 1, len(pairs) - 1)
    ends = reach[lasts]
    return tuple(zip(pairs[begins, 0].tolist(), ends.tolist(), strict=True))


def _single(first: Table, second: Table, stretch: str) -> Interval:
    """Only one at a time in the whole of it."""
    (a_0, a_1, _), (b_0, b_1, _) = first.parts[stretch], second.parts[stretch]
    enters = [float(one.time(np.array([at]))[0]) for one, at in ((first, a_0), (second, b_0))]
    exits = [float(one.leaves(np.array([at]))[0]) for one, at in ((first, a_1), (second, b_1))]
    return enters[0] - exits[1], exits[0] - enters[1]


def _behind(ahead: Table, behind: Table, stretch: str, gap: Gap) -> float:
    """How much later, at least, one passes the beginning of its table than the one ahead passes that of its own; in s.

    Between two looks: the one behind counts as at the first of them, the one ahead has to have passed the second.
    """
    (a_0, a_1, _), (b_0, b_1, _) = ahead.parts[stretch], behind.parts[stretch]
    along, goal = _goals(behind, b_0, b_1, gap)
    goal = goal - b_0 + a_0
    off_m, into = ahead.turns_off(a_1)
    other_m, other = behind.turns_off(b_1)
    if into != other or not math.isclose(off_m, other_m, abs_tol=1e-3):
        # Who turns off is in nobody's way once its body is: not until it is a whole gap beyond, where it may stand.
        goal = np.minimum(goal, a_1 + off_m + gap.room_m)
    return float((ahead.passes(goal) - behind.time(along)).max())


def _goals(behind: Table, low_m: float, high_m: float, gap: Gap) -> tuple[Array, Array]:
    """Give ways of the one behind, and to where the one ahead must have passed when it is there."""
    count = max(math.ceil((high_m - low_m) / STEP_M), 1)
    ways = np.linspace(low_m, high_m, count + 1)
    speeds = np.interp(ways, behind.ways_m, behind.speeds_mps)
    return ways[:-1], ways[1:] + gap.at(np.maximum(speeds[:-1], speeds[1:]))


def rows_behind(
    ahead: Pass, behind: Pass, gap: Gap, *, single: bool
) -> tuple[tuple[int, int, float], ...]:
    """Give (leg of the one ahead, leg of the one behind, least difference in s of their starts): it comes behind.

    In a single place the other one must have joined the main path again; elsewhere a headway is kept, from the
    beginning of the stretch before the excursion on.
    """
    if single:
        return ((ahead.leaves[0], behind.enters[0], ahead.leaves_s - behind.enters_s),)
    name = ahead.excursion
    rows: dict[tuple[int, int], float] = {}
    for leg, start, table in dict.fromkeys((behind.enters, behind.leaves)):
        begins, ends, _ = table.parts[name]
        low = max(table.before(name), float(table.ways_m[0]))
        high = min(ends, table.end_m)
        if high <= low:
            continue
        ways, goals = _goals(table, low, high, gap)
        goals = goals - begins + ahead.enters[2].parts[name][0]
        for at, (other, begun, passed) in enumerate(dict.fromkeys((ahead.enters, ahead.leaves))):
            stop_m = ahead.enters[2].end_m
            mine = goals > stop_m if at else goals <= stop_m
            if not ahead.waits:
                mine = np.ones(len(goals), dtype=bool)
            if mine.any():
                late = begun + passed.passes(goals[mine]) - start - table.time(ways[mine])
                rows[other, leg] = max(rows.get((other, leg), -math.inf), float(late.max()))
    return tuple((a, b, c) for (a, b), c in rows.items())
