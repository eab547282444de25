"""What one vehicle drives between its waiting places, as way over time.

A leg begins at rest where the vehicle may wait, at the start or in the stop of an excursion, and ends at the next of
them or with the run.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from choreo.circuits.lap import Lap
from choreo.circuits.planning import PlannedCircuit
from choreo.circuits.records import VEHICLE, Circuit
from choreo.track.motion import motion_of
from choreo.words.records import dataclass

Array = NDArray[np.float64]

# Laps are looked at this often (s).
CLOCK_S = 0.05


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
    stop it ends, None at the line. stands_s: how long it has to stand there. main_m: length of
    the main path. then: what it drives from the line on, None where it leaves the track there or ends in a stop.
    """

    lap: Lap
    begins_s: float
    times_s: Array
    ways_m: Array
    speeds_mps: Array
    parts: Mapping[str, tuple[float, float, float]]
    stop: str | None
    stands_s: float
    main_m: float
    then: Table | None = None

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
        """Give where in the lap the stretch before one begins; m."""
        begins = self.parts[stretch][0]
        return max((low for low, _, _ in self.parts.values() if low < begins), default=begins)

    @cached_property
    def mains(self) -> tuple[tuple[float, float, float], ...]:
        """Give the stretches of the main path that it drives, as parts."""
        aside = self.lap.key.excursions
        return tuple(at for name, at in self.parts.items() if name not in aside and self.has(name))

    @cached_property
    def fastest_mps(self) -> float:
        return float(self.speeds_mps.max())

    def turns_off(self, way_m: float) -> tuple[float, str]:
        """Give how far behind a way it turns off next, in m, and into which excursion; inf where it stays."""
        laps = [(0.0, self)] if self.then is None else [(0.0, self), (self.end_m, self.then)]
        offs = (
            (begins + one.parts[name][0] - way_m, name)
            for begins, one in laps
            for name in one.lap.key.excursions
        )
        return min(((m, name) for m, name in offs if m > -1e-6), default=(math.inf, ""))

    @cached_property
    def appears(self) -> tuple[tuple[float, float], ...]:
        """Give the ways at which it comes onto the main path, from the start or an excursion, and their stations; m."""
        aside = [self.parts[name][1] for name in self.lap.key.excursions]
        onto = [way for way in aside if float(self.ways_m[0]) <= way <= self.end_m + 1e-6]
        if self.lap.key.first and self.begins_s == 0.0:
            onto.append(0.0)
        found = [(way, at) for way in onto for low, _, at in self.mains if abs(low - way) < 1e-6]
        if self.then is not None and self.then.mains and self.then.mains[0][0] == 0.0:
            found += [(way, 0.0) for way in onto if abs(way - self.lap.length_m) < 1e-6]
        return tuple(found)

    def time(self, way_m: Array) -> Array:
        """Give when a way is passed first, in s after it began."""
        return np.asarray(np.interp(way_m, self.ways_m, self.times_s))

    def leaves(self, way_m: Array) -> Array:
        """Give when a way is passed last: after standing there. At its end: when it comes there."""
        index = np.clip(np.searchsorted(self.ways_m, way_m, "right"), 0, len(self.ways_m) - 1)
        return np.asarray(self.times_s[index])

    def passes(self, way_m: Array) -> Array:
        """Give when ways are left that may lie beyond its end: at a stop it is there, behind the line it goes on."""
        passed = self.leaves(np.minimum(way_m, self.end_m))
        if self.then is None:
            return passed
        on = self.lasts_s + self.then.leaves(np.clip(way_m - self.end_m, 0.0, self.then.end_m))
        return np.where(way_m > self.end_m, on, passed)


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
    driven: list[tuple[Table, ...]] = []
    stops = 0
    for run in plan.driven:
        for _ in range(run.count):
            may = waits.intersection(run.lap.excursions)
            stops += bool(may)
            driven.append(tables[run.lap.name, may if stops % every == 0 else frozenset()])
    legs: list[Leg] = []
    laps = []
    drives: list[tuple[float, Table]] = []
    now = 0.0
    for parts in _going_on(driven):
        laps.append((len(legs), now, parts))
        for table in parts:
            drives.append((now, table))
            now += table.lasts_s
            if table.stop is not None:
                legs.append(Leg(tuple(drives), now))
                drives, now = [], 0.0
    legs.append(Leg(tuple(drives), now))
    return Course(plan, tuple(legs), tuple(laps), circuit.lap_m)


def _going_on(driven: Sequence[tuple[Table, ...]]) -> Iterator[tuple[Table, ...]]:
    """Laps one after the other, each with what comes behind the line; alike ones stay one and the same."""
    known: dict[tuple[int, int], tuple[Table, ...]] = {}
    for parts, (then, *_) in pairwise(driven):
        key = id(parts), id(then)
        if key not in known:
            known[key] = (*parts[:-1], replace(parts[-1], then=then))
        yield known[key]
    yield driven[-1]


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
                yield _table(lap, parts, begins, now, name, spell.lasts_s, circuit.lap_m)
                begins = now + spell.lasts_s
        now += spell.lasts_s
    yield _table(lap, parts, begins, lap.lasts_s, None, 0.0, circuit.lap_m)


def _table(
    lap: Lap,
    parts: Mapping[str, tuple[float, float, float]],
    begins_s: float,
    ends_s: float,
    stop: str | None,
    stands_s: float,
    main_m: float,
) -> Table:
    mover = lap.answer.plan.movers[VEHICLE]
    count = max(int((ends_s - begins_s) / CLOCK_S) + 1, 2)
    times = np.linspace(begins_s, ends_s, count)
    ways, speeds = motion_of(mover).states(times + mover.launch_s)
    ways = np.maximum.accumulate(ways)
    if stop is None:
        ways[-1] = lap.length_m
    return Table(lap, begins_s, times - begins_s, ways, speeds, parts, stop, stands_s, main_m)


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
