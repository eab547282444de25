"""Which differences of start times two vehicles can't have: headways on every stretch, single places."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from choreo.circuits.lap import Lap
from choreo.circuits.planning import PlannedCircuit
from choreo.circuits.records import VEHICLE, LapKey
from choreo.plans.record import MoverPlan
from choreo.sharing.timetable import Interval, merged
from choreo.track.motion import motion_of

Array = NDArray[np.float64]

# Stretches are looked at this often (m); what is between two looks is bounded.
STEP_M = 2.0
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


@dataclass(frozen=True)
class Table:
    """A kind of lap as way over time: times_s, ways_m of shape (n,), rising; where parts of it lie."""

    lap: Lap
    times_s: Array
    ways_m: Array
    speeds_mps: Array
    # Of a stretch by name: from where to where in the lap, and the station of its path at which it begins; m.
    parts: Mapping[str, tuple[float, float, float]]
    # From when on in the lap it stands longer, and how much; s.
    wait: tuple[float, float] = (0.0, 0.0)

    @property
    def lasts_s(self) -> float:
        """How long the lap lasts, waiting included."""
        return self.lap.lasts_s + self.wait[1]

    def after(self, stretch: str) -> str | None:
        """Give the stretch that follows one in this lap; None at the line, behind which everybody goes on alike."""
        begins = self.parts[stretch][1] - 1e-6
        later = [(low, name) for name, (low, _, _) in self.parts.items() if low >= begins]
        return min(later)[1] if later else None

    def time(self, way_m: Array) -> Array:
        """Give when a way is passed first, in s after the line."""
        return np.asarray(np.interp(way_m, self.ways_m, self.times_s))

    def leaves(self, way_m: Array) -> Array:
        """Give when a way is passed last: after standing there."""
        index = np.clip(np.searchsorted(self.ways_m, way_m, "right"), 0, len(self.ways_m) - 1)
        return np.asarray(self.times_s[index])


@dataclass(frozen=True)
class Course:
    """What one vehicle drives: its laps in order with the times at which they begin, and their tables."""

    plan: PlannedCircuit
    laps: tuple[tuple[float, str], ...]
    tables: Mapping[str, Table]
    lap_m: float

    @cached_property
    def lasts_s(self) -> float:
        start, name = self.laps[-1]
        return start + self.tables[name].lasts_s

    def carries(self, gap: Gap) -> int:
        """Give how many vehicles the main path carries at once: so many gaps at the highest speed fit on it."""
        fastest = max(float(one.speeds_mps.max()) for one in self.tables.values())
        return int(self.lap_m / float(gap.at(fastest)))


def course_of(plan: PlannedCircuit, *, slots: bool = False) -> Course:
    """Give what a vehicle of a planned circuit drives.

    slots: stops of excursions last so much longer that their laps take a whole number of plain laps.
    """
    circuit = plan.circuit
    plain = next((lap.lasts_s for key, lap in plan.laps.items() if key == LapKey()), None)
    tables = {}
    for key, lap in plan.laps.items():
        wait = (0.0, 0.0)
        stops = [spell for spell in lap.spells if spell.stands]
        if slots and plain is not None and key.excursions and stops:
            begins = sum(one.lasts_s for one in lap.spells[: lap.spells.index(stops[0]) + 1])
            wait = (begins, math.ceil(lap.lasts_s / plain - 1e-9) * plain - lap.lasts_s)
        tables[key.name] = _table(plan, lap, wait)
    laps: list[tuple[float, str]] = []
    now = 0.0
    for run in plan.driven:
        for _ in range(run.count):
            laps.append((now, run.lap.name))
            now += tables[run.lap.name].lasts_s
    return Course(plan, tuple(laps), tables, circuit.lap_m)


def _table(plan: PlannedCircuit, lap: Lap, wait: tuple[float, float]) -> Table:
    mover: MoverPlan = lap.answer.plan.movers[VEHICLE]
    motion = motion_of(mover)
    count = max(int(lap.lasts_s / CLOCK_S) + 1, 2)
    times = np.linspace(0.0, lap.lasts_s, count)
    ways, speeds = motion.states(times + mover.launch_s)
    cuts = sorted(
        {at for one in plan.circuit.excursions.values() for at in (one.leaves_m, one.joins_m)}
    )
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
    # The wait is a second look at the place where it begins, so much later.
    at = int(np.searchsorted(times, wait[0]))
    if wait[1] > 0.0:
        standing = ways[at - 1]
        times = np.concatenate((times[:at], [wait[0], wait[0] + wait[1]], times[at:] + wait[1]))
        ways = np.concatenate((ways[:at], [standing, standing], ways[at:]))
        speeds = np.concatenate((speeds[:at], [0.0, 0.0], speeds[at:]))
    return Table(lap, times, np.maximum.accumulate(ways), speeds, parts, wait)


def forbidden_between(
    one: Course, other: Course, gap: Gap, single: frozenset[str]
) -> tuple[Interval, ...]:
    """Give what the start of `other` less that of `one` can't be, in s, as disjoint open intervals."""
    known: dict[tuple[str, str], list[Interval]] = {}
    for a, first in one.tables.items():
        for b, second in other.tables.items():
            found = []
            for stretch in first.parts.keys() & second.parts.keys():
                if stretch in single:
                    found.append(_single(first, second, stretch))
                else:
                    found.append(_following(first, second, stretch, gap))
            known[a, b] = found
    intervals: list[Interval] = []
    for start, a in one.laps:
        for begin, b in other.laps:
            shift = start - begin
            intervals += [(low + shift, high + shift) for low, high in known[a, b]]
    return merged(intervals)


def _single(first: Table, second: Table, stretch: str) -> Interval:
    """Only one at a time in the whole of it."""
    (a_0, a_1, _), (b_0, b_1, _) = first.parts[stretch], second.parts[stretch]
    enters = [float(one.time(np.array([at]))[0]) for one, at in ((first, a_0), (second, b_0))]
    exits = [float(one.leaves(np.array([at]))[0]) for one, at in ((first, a_1), (second, b_1))]
    return enters[0] - exits[1], exits[0] - enters[1]


def _following(first: Table, second: Table, stretch: str, gap: Gap) -> Interval:
    """Differences at which neither is far enough behind the other somewhere on a stretch."""
    return -_behind(second, first, stretch, gap), _behind(first, second, stretch, gap)


def _behind(ahead: Table, behind: Table, stretch: str, gap: Gap) -> float:
    """How much later, at least, one passes the beginning of its lap than the one ahead passes that of its own; in s.

    Between two looks: the one behind counts as at the first of them, the one ahead has to have passed the second.
    """
    (a_0, a_1, _), (b_0, _, _) = ahead.parts[stretch], behind.parts[stretch]
    count = max(math.ceil((a_1 - a_0) / STEP_M), 1)
    along = np.linspace(0.0, a_1 - a_0, count + 1)
    speeds = np.interp(b_0 + along, behind.ways_m, behind.speeds_mps)
    room = gap.at(np.maximum(speeds[:-1], speeds[1:]))
    goal = a_0 + along[1:] + room
    if ahead.after(stretch) != behind.after(stretch):
        # Who turns off is in nobody's way once its body is: not until it is a whole gap beyond, where it may stand.
        goal = np.minimum(goal, a_1 + gap.room_m)
    end = float(ahead.ways_m[-1])
    passed = ahead.leaves(np.minimum(goal, end))
    if not ahead.lap.key.last:
        # Beyond the line it goes on in the next lap, no slower than it passes the line, for the few metres of a gap.
        passed = passed + np.maximum(goal - end, 0.0) / float(ahead.speeds_mps[-1])
    return float((passed - behind.time(b_0 + along[:-1])).max())


def positions(course: Course, times_s: Array) -> tuple[list[str], Array, Array]:
    """Give stretch, station on its path in m and speed in m/s at times since the start; '' before and after the run."""
    starts = np.array([start for start, _ in course.laps])
    index = np.clip(np.searchsorted(starts, times_s, "right") - 1, 0, len(starts) - 1)
    stretches = [""] * len(times_s)
    stations, speeds = np.zeros(len(times_s)), np.zeros(len(times_s))
    for number in np.unique(index):
        start, name = course.laps[number]
        table = course.tables[name]
        mine = np.flatnonzero((index == number) & (times_s >= 0.0) & (times_s <= course.lasts_s))
        into = times_s[mine] - start
        ways = np.interp(into, table.times_s, table.ways_m)
        speeds[mine] = np.interp(into, table.times_s, table.speeds_mps)
        for stretch, (low, high, station) in table.parts.items():
            here = (ways >= low) & (ways <= high)
            for one in mine[here]:
                stretches[one] = stretch
            stations[mine[here]] = ways[here] - low + station
    return stretches, stations, speeds
