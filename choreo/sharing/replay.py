"""All vehicles driven together by the clock, from the laps' plans alone: is anybody nearer than the headway?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from choreo.circuits.records import VEHICLE
from choreo.sharing.blocking import Course, Gap
from choreo.track.motion import motion_of

# The clock of the replay (s): at 70 km/h somebody gets 5 m farther between two looks.
CLOCK_S = 0.25
# Gaps that are short by less than this (m) are what the clock rounds.
SHORT_M = 0.05


@dataclass(frozen=True, slots=True)
class Breach:
    """Who was too near behind whom, when (s) and where; short_m: by how much, 0 for a single place with two in it."""

    behind: str
    ahead: str
    time_s: float
    place: str
    short_m: float


def breaches(
    runs: Sequence[tuple[str, Course, float]], gap: Gap, single: frozenset[str]
) -> tuple[Breach, ...]:
    """Replay vehicles (name, what it drives, its start in s); give the worst breach of each pair."""
    ends = max(start + course.lasts_s for _, course, start in runs)
    clock = np.arange(0.0, ends + CLOCK_S, CLOCK_S)
    seen = [_seen(course, clock - start) for _, course, start in runs]
    found = []
    lap = runs[0][1].lap_m
    for i, (behind, _, _) in enumerate(runs):
        for j, (ahead, _, _) in enumerate(runs):
            if i == j:
                continue
            (on_i, at_i, v_i), (on_j, at_j, _) = seen[i], seen[j]
            main = (on_i == 0) & (on_j == 0)
            same = (on_i > 0) & (on_i == on_j)
            if i < j:
                for number, name in _excursions(runs):
                    both = same & (on_i == number)
                    if name in single and both.any():
                        first = float(clock[int(np.argmax(both))])
                        found.append(Breach(behind, ahead, first, name, 0.0))
            apart = np.where(main, (at_j - at_i) % lap, at_j - at_i)
            near = (main | (same & (at_j > at_i))) & (apart < gap.at(v_i) - SHORT_M)
            if near.any():
                short = np.where(near, gap.at(v_i) - apart, 0.0)
                worst = int(short.argmax())
                place = "main" if main[worst] else "excursion"
                found.append(Breach(behind, ahead, float(clock[worst]), place, float(short[worst])))
    return tuple(found)


def _excursions(runs: Sequence[tuple[str, Course, float]]) -> list[tuple[int, str]]:
    names = sorted({name for _, course, _ in runs for name in course.plan.circuit.excursions})
    return [(number, name) for number, name in enumerate(names, 1)]


def _seen(course: Course, times_s: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """On what (0 main, from 1 on an excursion, -1 nowhere), at which station in m, how fast in m/s."""
    numbers = {
        name: number for number, name in enumerate(sorted(course.plan.circuit.excursions), 1)
    }
    on = np.full(len(times_s), -1)
    at, speed = np.zeros(len(times_s)), np.zeros(len(times_s))
    laps = {key.name: lap for key, lap in course.plan.laps.items()}
    for start, name in course.laps:
        lap = laps[name]
        begins, more = course.tables[name].wait
        mine = np.flatnonzero((times_s >= start) & (times_s < start + lap.lasts_s + more))
        if not len(mine):
            continue
        mover = lap.answer.plan.movers[VEHICLE]
        into = times_s[mine] - start
        into = np.where(into > begins, np.maximum(into - more, begins), into)
        ways, speeds = motion_of(mover).states(into + mover.launch_s)
        speed[mine] = speeds
        for part in lap.parts:
            length = part.end_m - part.start_m
            here = mine[(ways >= part.lap_m) & (ways <= part.lap_m + length)]
            inside = (ways >= part.lap_m) & (ways <= part.lap_m + length)
            on[here] = 0 if part.excursion is None else numbers[part.excursion]
            at[here] = ways[inside] - part.lap_m + part.start_m
    return on, at, speed
