"""What one vehicle drives between its waiting places, and which differences of starts two such legs can't have.

A leg begins at rest where the vehicle may wait, at the start or in the stop of an excursion, and ends at the next of
them or with the run.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from choreo.circuits.lap import Lap
from choreo.circuits.planning import PlannedCircuit
from choreo.circuits.records import VEHICLE, Circuit
from choreo.sharing.model import SAME_S, Interval
from choreo.track.motion import motion_of
from choreo.words.records import dataclass

Array = NDArray[np.float64]

# Stretches are looked at this often (m); what is between two looks is bounded.
STEP_M = 2.0
CLOCK_S = 0.05
# Differences of starts of laps that are nearer than this (s) are one.
ALIKE_S = 1e-7


@dataclass(frozen=True, slots=True)
class Gap:
    """The headway: how far behind the reference point of one ahead another one must be, by its speed.

    gap = v reaction + v^2 / (2 braking) + room; room_m: length of the vehicle and margin.
    """

    reaction_s: float
    braking_mps2: float
    room_m: float

    def at(self, speed_mps: Array | float) -> Array:
        """Give the gap in m at speeds in m/s."""
        v = np.asarray(speed_mps, dtype=np.float64)
        return np.asarray(v * self.reaction_s + v**2 / (2.0 * self.braking_mps2) + self.room_m)

    def headway_s(self, speed_mps: float) -> float:
        """Give the gap as a time, at a speed held."""
        return float(self.at(speed_mps)) / speed_mps


@dataclass(frozen=True, eq=False)
class Table:
    """A lap, or the part of it between two stops at which one may wait, as way over time.

    begins_s: in the lap. times_s from 0, ways_m in the lap, speeds_mps: of shape (n,), rising. parts: of a stretch by
    name from where to where in the lap, and the station of its path at which it begins; m. stop: the excursion in whose
    stop it ends, None at the line. stands_s: how long it has to stand there.
    """

    lap: Lap
    begins_s: float
    times_s: Array
    ways_m: Array
    speeds_mps: Array
    parts: Mapping[str, tuple[float, float, float]]
    stop: str | None
    stands_s: float

    @property
    def lasts_s(self) -> float:
        """How long it lasts, standing included."""
        return float(self.times_s[-1]) + self.stands_s

    @property
    def end_m(self) -> float:
        return float(self.ways_m[-1])

    def has(self, stretch: str) -> bool:
        """Tell whether it drives the whole of a stretch."""
        if stretch not in self.parts:
            return False
        low, high, _ = self.parts[stretch]
        return float(self.ways_m[0]) <= low + 1e-6 and high <= self.end_m + 1e-6

    def after(self, stretch: str) -> str | None:
        """Give the stretch that follows one in this lap; None at the line, behind which everybody goes on alike."""
        begins = self.parts[stretch][1] - 1e-6
        later = [(low, name) for name, (low, _, _) in self.parts.items() if low >= begins]
        return min(later)[1] if later else None

    def before(self, stretch: str) -> float:
        """Give where in the lap the stretch before one begins, '': before the line; m."""
        begins = self.parts[stretch][0] if stretch else self.lap.length_m
        return max((low for low, _, _ in self.parts.values() if low < begins), default=begins)

    def time(self, way_m: Array) -> Array:
        """Give when a way is passed first, in s after it began."""
        return np.asarray(np.interp(way_m, self.ways_m, self.times_s))

    def leaves(self, way_m: Array) -> Array:
        """Give when a way is passed last: after standing there. At its end: when it comes there."""
        index = np.clip(np.searchsorted(self.ways_m, way_m, "right"), 0, len(self.ways_m) - 1)
        return np.asarray(self.times_s[index])

    def passes(self, way_m: Array) -> Array:
        """Give when ways are left that may lie beyond its end: at a stop it is there, behind the line it goes on.

        It goes on in the next lap no slower than it passes the line, for the few metres of a gap.
        """
        passed = self.leaves(np.minimum(way_m, self.end_m))
        if self.stop is None and not self.lap.key.last:
            passed = passed + np.maximum(way_m - self.end_m, 0.0) / float(self.speeds_mps[-1])
        return passed


@dataclass(frozen=True, eq=False)
class Leg:
    """What is driven without waiting: (start in s after the leg's own, table). lasts_s: with its stand."""

    drives: tuple[tuple[float, Table], ...]
    lasts_s: float

    @cached_property
    def kinds(self) -> list[tuple[Table, Array]]:
        """Give each table with all its starts."""
        found: dict[int, tuple[Table, list[float]]] = {}
        for start, table in self.drives:
            found.setdefault(id(table), (table, []))[1].append(start)
        return [(table, np.array(starts)) for table, starts in found.values()]


@dataclass(frozen=True, eq=False)
class Pass:
    """An excursion taken: in which leg it is entered and left, and the starts and tables of that."""

    excursion: str
    enters: tuple[int, float, Table]
    leaves: tuple[int, float, Table]

    @property
    def waits(self) -> bool:
        """Whether there may be waiting in it."""
        return self.leaves[0] > self.enters[0]

    @property
    def enters_s(self) -> float:
        """When it turns off, in s after the leg's start."""
        _, start, table = self.enters
        return start + float(table.time(np.array([table.parts[self.excursion][0]]))[0])

    @property
    def leaves_s(self) -> float:
        """When it joins the main path again, in s after the start of the leg in which it does."""
        _, start, table = self.leaves
        return start + float(table.leaves(np.array([table.parts[self.excursion][1]]))[0])


@dataclass(frozen=True, eq=False)
class Course:
    """What one vehicle drives, in legs. laps: (leg, start in it in s, tables) of each lap; all after the first table
    begin legs of their own.
    """

    plan: PlannedCircuit
    legs: tuple[Leg, ...]
    laps: tuple[tuple[int, float, tuple[Table, ...]], ...]
    lap_m: float

    @property
    def lasts_s(self) -> float:
        """How long it lasts without waiting."""
        return math.fsum(one.lasts_s for one in self.legs)

    @cached_property
    def tables(self) -> tuple[Table, ...]:
        return tuple({id(one): one for _, _, tables in self.laps for one in tables}.values())

    @cached_property
    def fastest_mps(self) -> float:
        return max(float(one.speeds_mps.max()) for one in self.tables)

    @cached_property
    def passes(self) -> tuple[Pass, ...]:
        """Give all excursions that are taken."""
        found = []
        for leg, start, tables in self.laps:
            places = [(leg + n, start if n == 0 else 0.0, one) for n, one in enumerate(tables)]
            for name in tables[0].lap.key.excursions:
                low, high, _ = tables[0].parts[name]
                ins = next(one for one in places if low < one[2].end_m)
                outs = next(one for one in places if high <= one[2].end_m + 1e-6)
                found.append(Pass(name, ins, outs))
        return tuple(found)


def course_of(
    plan: PlannedCircuit,
    waits: frozenset[str] = frozenset(),
    cuts_m: Sequence[float] = (),
    every: int = 1,
) -> Course:
    """Give what a vehicle of a planned circuit drives.

    waits: excursions in whose stops it may wait, in every so manieth lap with one. cuts_m: stations of the main path at
    which excursions of any vehicle leave or join.
    """
    circuit = plan.circuit
    cuts = {at for one in circuit.excursions.values() for at in (one.leaves_m, one.joins_m)}
    tables = {
        (key.name, may): tuple(_tables(circuit, lap, may, sorted(cuts | set(cuts_m))))
        for key, lap in plan.laps.items()
        for may in {frozenset[str](), waits.intersection(key.excursions)}
    }
    legs: list[Leg] = []
    laps = []
    drives: list[tuple[float, Table]] = []
    now, stops = 0.0, 0
    for run in plan.driven:
        for _ in range(run.count):
            may = waits.intersection(run.lap.excursions)
            stops += bool(may)
            parts = tables[run.lap.name, may if stops % every == 0 else frozenset()]
            laps.append((len(legs), now, parts))
            for table in parts:
                drives.append((now, table))
                now += table.lasts_s
                if table.stop is not None:
                    legs.append(Leg(tuple(drives), now))
                    drives, now = [], 0.0
    legs.append(Leg(tuple(drives), now))
    return Course(plan, tuple(legs), tuple(laps), circuit.lap_m)


def _tables(
    circuit: Circuit, lap: Lap, waits: frozenset[str], cuts: Sequence[float]
) -> Iterator[Table]:
    """A lap, cut where it may wait."""
    parts = _parts(lap, cuts)
    stopping = [one for one in lap.key.excursions if circuit.excursions[one].stop_m is not None]
    begins, now = 0.0, 0.0
    for spell in lap.spells:
        if spell.stands:
            name = stopping.pop(0)
            if name in waits:
                yield _table(lap, parts, begins, now, name, spell.lasts_s)
                begins = now + spell.lasts_s
        now += spell.lasts_s
    yield _table(lap, parts, begins, lap.lasts_s, None, 0.0)


def _table(
    lap: Lap,
    parts: Mapping[str, tuple[float, float, float]],
    begins_s: float,
    ends_s: float,
    stop: str | None,
    stands_s: float,
) -> Table:
    mover = lap.answer.plan.movers[VEHICLE]
    count = max(int((ends_s - begins_s) / CLOCK_S) + 1, 2)
    times = np.linspace(begins_s, ends_s, count)
    ways, speeds = motion_of(mover).states(times + mover.launch_s)
    ways = np.maximum.accumulate(ways)
    if stop is None:
        ways[-1] = lap.length_m
    return Table(lap, begins_s, times - begins_s, ways, speeds, parts, stop, stands_s)


def _parts(lap: Lap, cuts: Sequence[float]) -> Mapping[str, tuple[float, float, float]]:
    parts: dict[str, tuple[float, float, float]] = {}
    for part in lap.parts:
        if part.excursion is not None:
            length = part.end_m - part.start_m
            parts[part.excursion] = (part.lap_m, part.lap_m + length, 0.0)
            continue
        edges = [part.start_m, *(c for c in cuts if part.start_m < c < part.end_m), part.end_m]
        for low, high in pairwise(edges):
            begins = part.lap_m + low - part.start_m
            parts[f"main {low:.3f}"] = (begins, begins + high - low, low)
    return parts


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
            for low, high in _starting(first, second, gap):
                found.append(np.column_stack((low + shifts, high + shifts)))
    return _union(np.concatenate(found)) if found else ()


def _starting(first: Table, second: Table, gap: Gap) -> Iterator[Interval]:
    """Who starts at the line is suddenly there: not while somebody comes up to it and is nearer than the gap."""
    for ahead, behind, sign in ((first, second, 1.0), (second, first, -1.0)):
        key = ahead.lap.key
        if not key.first or ahead.begins_s > 0.0 or behind.stop is not None:
            continue
        low = max(behind.before(""), float(behind.ways_m[0]))
        ways, goals = _goals(behind, low, behind.end_m, gap)
        near = goals >= behind.end_m
        if near.any():
            late = ahead.passes(goals[near] - behind.end_m) - behind.time(ways[near])
            pair = (-float(behind.times_s[-1]), float(late.max()))
            yield pair if sign > 0.0 else (-pair[1], -pair[0])


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
    if ahead.after(stretch) != behind.after(stretch):
        # Who turns off is in nobody's way once its body is: not until it is a whole gap beyond, where it may stand.
        goal = np.minimum(goal, a_1 + gap.room_m)
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
