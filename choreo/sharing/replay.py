"""All vehicles driven together by the clock, from the laps' plans alone: is anybody nearer than the headway?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from choreo.circuits.lap import Lap
from choreo.circuits.records import VEHICLE
from choreo.sharing.driving import Array, Course, Gap
from choreo.sharing.staged import Staged, touched
from choreo.track.motion import motion_of
from choreo.words.records import dataclass

# The clock of the replay (s): at 70 km/h somebody gets 5 m farther between two looks.
CLOCK_S = 0.25
# Gaps that are short by less than this (m) are what the clock rounds.
SHORT_M = 0.05
# From when to when something lasts, s.
Spans = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Breach:
    """Who was too near behind whom, when (s) and where; short_m: by how much, 0 for a single place with two in it."""

    behind: str
    ahead: str
    time_s: float
    place: str
    short_m: float


@dataclass(frozen=True, slots=True)
class Run:
    """A vehicle on its circuit: the starts in s of its legs."""

    name: str
    course: Course
    starts_s: tuple[float, ...]

    @property
    def ends_s(self) -> float:
        return self.starts_s[-1] + self.course.legs[-1].lasts_s

    def laps(self) -> Iterator[tuple[Lap, Array, Array]]:
        """Give each lap with corners of its clock: times of the day (s after 0) and of the lap as planned, rising.

        Between two stops both run alike; where it waits its own stands still.
        """
        for leg, start, tables in self.course.laps:
            days, own = [], []
            for n, table in enumerate(tables):
                begins = self.starts_s[leg + n] + (start if n == 0 else 0.0)
                runs = float(table.times_s[-1]) + table.stands_s
                days += [begins, begins + runs]
                own += [table.begins_s, table.begins_s + runs]
            yield tables[0].lap, np.array(days), np.array(own)


@dataclass(frozen=True, slots=True)
class Seen:
    """Where somebody is at times. on: 0 main path, from 1 on an excursion by number, -1 nowhere; at_m: its station."""

    on: NDArray[np.int64]
    at_m: Array
    speed_mps: Array


def breaches(runs: Sequence[Run], gap: Gap, single: frozenset[str]) -> tuple[Breach, ...]:
    """Replay vehicles; give the worst breach of each pair."""
    if len(runs) < 2:
        return ()
    clock = np.arange(0.0, max(one.ends_s for one in runs) + CLOCK_S, CLOCK_S)
    names = excursions(runs)
    seen = [see(one, clock, names) for one in runs]
    found = []
    lap = runs[0].course.lap_m
    for i, behind in enumerate(runs):
        for j, ahead in enumerate(runs):
            if i == j:
                continue
            main = (seen[i].on == 0) & (seen[j].on == 0)
            same = (seen[i].on > 0) & (seen[i].on == seen[j].on)
            if i < j:
                for number, name in enumerate(names, 1):
                    both = same & (seen[i].on == number)
                    if name in single and both.any():
                        first = float(clock[int(np.argmax(both))])
                        found.append(Breach(behind.name, ahead.name, first, name, 0.0))
            ahead_m = seen[j].at_m - seen[i].at_m
            apart = np.where(main, ahead_m % lap, ahead_m)
            near = (main | (same & (ahead_m > 0.0))) & (apart < gap.at(seen[i].speed_mps) - SHORT_M)
            if near.any():
                short = np.where(near, gap.at(seen[i].speed_mps) - apart, 0.0)
                worst = int(short.argmax())
                place = names[seen[i].on[worst] - 1] if same[worst] else "main"
                at = float(clock[worst])
                found.append(Breach(behind.name, ahead.name, at, place, float(short[worst])))
    return tuple(found)


def intruders(runs: Sequence[Run], stands: Sequence[tuple[Staged, Spans]]) -> tuple[Breach, ...]:
    """Replay vehicles while staged tests run; give when each is first in a zone with its body."""
    found = []
    for run in runs:
        for staged, spans in stands:
            first = min(_inside(run, staged, spans), default=None)
            if first is not None:
                found.append(Breach(run.name, staged.name, first, staged.place, 0.0))
    return tuple(found)


def _inside(run: Run, staged: Staged, spans: Spans) -> Iterator[float]:
    """When it is in a zone, s; by a clock of its own."""
    for lap, days, own in run.laps():
        mover = lap.answer.plan.movers[VEHICLE]
        for begins, ends in spans:
            low, high = max(begins, float(days[0])), min(ends, float(days[-1]))
            if low >= high:
                continue
            # The ends of a run belong to it, but for what rounding leaves of them.
            times = np.linspace(low + 1e-3, high - 1e-3, int((high - low) / CLOCK_S) + 2)
            ways, _ = motion_of(mover).states(np.interp(times, days, own) + mover.launch_s)
            inside = touched(lap, ways, staged)
            if inside.any():
                yield float(times[int(np.argmax(inside))])


def excursions(runs: Sequence[Run]) -> list[str]:
    """Give the names of all excursions of all, in order."""
    return sorted({name for one in runs for name in one.course.plan.circuit.excursions})


def see(run: Run, times_s: Array, names: Sequence[str]) -> Seen:
    """Give where a vehicle is at times (rising), from the plans of its laps. names: of excursions, as numbered."""
    on = np.full(len(times_s), -1)
    at, speed = np.zeros(len(times_s)), np.zeros(len(times_s))
    for lap, days, own in run.laps():
        mine = np.arange(*np.searchsorted(times_s, (days[0], days[-1])))
        if not len(mine):
            continue
        mover = lap.answer.plan.movers[VEHICLE]
        into = np.interp(times_s[mine], days, own)
        ways, speeds = motion_of(mover).states(into + mover.launch_s)
        speed[mine] = speeds
        for part in lap.parts:
            inside = (ways >= part.lap_m) & (ways <= part.lap_m + part.end_m - part.start_m)
            here = mine[inside]
            on[here] = 0 if part.excursion is None else names.index(part.excursion) + 1
            at[here] = ways[inside] - part.lap_m + part.start_m
    return Seen(on, at, speed)
