"""The law of a mover that goes in step with another, executed sample by sample on simulated motions.

It learns where the other one is, knows from that how far the run has come, and drives what it would drive by plan
then: the plan's own accelerations at the pace of the run, and one more, the same for a whole period, that makes good
what it has lost.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from choreo.scenario import Limits
from choreo.scenario.records.in_step import CATCH_UP_S, InStep
from choreo.verification.integration import Motion, advance
from choreo.words.records import dataclass

Array = NDArray[np.float64]

# A station within this (m) is the same one: who stands is at it all the while.
SAME_M = 1e-9
# Bisections until a time is exact to the last bit.
HALVINGS = 60
# The pace of a run is not read off a speed below this (m/s): the plan's own is taken.
SLOW_MPS = 1e-3
# A period shorter than this (s), the rest of one, is driven without a correction of its own.
SHORT_S = 1e-6

Command = tuple[float, float, float]


@dataclass(frozen=True, slots=True, eq=False)
class Progress:
    """How far the run has come at every sample: times_s after go, in plan time runs_s and its pace, shape (n,)."""

    times_s: Array
    runs_s: Array
    paces: Array

    def when(self, run_s: float) -> float:
        """Give the time in s after go at which the run has come to a time of the plan; inf when it never does."""
        later = np.flatnonzero(self.runs_s + self.paces * self._period_s > run_s)
        if not len(later):
            return math.inf
        k = int(later[0])
        ahead_s = max(0.0, run_s - float(self.runs_s[k]))
        return float(self.times_s[k]) + (ahead_s / float(self.paces[k]) if ahead_s else 0.0)

    def from_(self, time_s: float) -> Iterator[tuple[float, float, float, float]]:
        """Give, from a time in s on, each period's start, end, plan time at its start, and pace."""
        k = max(0, int(np.searchsorted(self.times_s, time_s, side="right")) - 1)
        for index in range(k, len(self.times_s)):
            begins, ends = float(self.times_s[index]), float(self.times_s[index]) + self._period_s
            pace, since_s = float(self.paces[index]), max(0.0, time_s - begins)
            if ends > time_s:
                yield begins + since_s, ends, float(self.runs_s[index]) + pace * since_s, pace

    @property
    def _period_s(self) -> float:
        return float(self.times_s[1] - self.times_s[0])


@dataclass(frozen=True, slots=True)
class Driven:
    """What was driven in step: commands from begins_s on, when each time of the plan asked for was reached (s).

    pace: at its end, of the speed by plan.
    """

    begins_s: float
    commands: tuple[Command, ...]
    reached_s: tuple[float, ...]
    pace: float


def progress_of(law: InStep, planned: Motion, lead: Motion, until_s: float) -> Progress:
    """Find how far the run has come, at every sample from go on.

    planned, lead: the other mover's motion by plan and as simulated. until_s: after go. Where it stands by plan
    the clock counts, as long as it does stand.
    """
    period_s = 1.0 / law.sampling_hz
    count = max(2, math.ceil(until_s * law.sampling_hz) + 1)
    times: Array = np.arange(count, dtype=np.float64) * period_s
    stations, speeds, _ = lead.at(times - law.link_s)
    least = _times_at(planned, stations - SAME_M, last=False) + law.link_s
    most = _times_at(planned, stations + SAME_M, last=True) + law.link_s
    runs, paces = np.empty(len(times)), np.empty(len(times))
    run, pace = 0.0, 1.0
    for k in range(len(times)):
        run += pace * period_s if k else 0.0
        # Who waits for its launch is not ahead because it stands beside its mark.
        waits = speeds[k] <= SLOW_MPS and run - law.link_s <= planned.launch_s
        if not waits or planned.speeds_mps[0] > 0.0:
            run = min(max(run, float(least[k])), float(most[k]))
        by_plan = float(planned.at(np.array([run - law.link_s]))[1][0])
        pace = float(speeds[k]) / by_plan if by_plan > SLOW_MPS else 1.0
        runs[k], paces[k] = run, pace
    return Progress(times, runs, paces)


def drive(
    law: InStep,
    limits: Limits,
    planned: Motion,
    progress: Progress,
    start: tuple[float, float, float],
    ends: Sequence[float],
) -> Driven:
    """Drive in step until the run has come to the last of `ends`, times of the plan in s.

    planned: its own motion by plan. start: when it begins, in s after go, at which station and how fast.
    """
    now, station, speed = start
    frozen_s = math.inf if law.frozen_s is None else ends[-1] - law.frozen_s
    commands: list[Command] = []
    reached: list[float] = []
    extra = 0.0
    for begins, period_ends, run, pace in progress.from_(now):
        frozen = run >= frozen_s
        if frozen:
            by_plan = _speed(planned, run)
            pace = speed / by_plan if by_plan > SLOW_MPS else 1.0
        to_run = ends[-1] if frozen else run + pace * (period_ends - begins)
        if pace > 0.0:
            reached += [
                begins + (end - run) / pace for end in ends[len(reached) :] if end <= to_run
            ]
        feed = _feed(planned, run, min(to_run, ends[-1]), pace, period_ends - begins)
        lasts = period_ends - begins
        if frozen:
            extra = 0.0
        elif lasts > SHORT_S:
            extra = _extra(
                law, limits, planned, (run, pace, lasts), (station, speed), (extra, feed)
            )
        for duration, accel, jerk in feed:
            from_mps2 = accel + extra
            commands.append((duration, from_mps2, jerk))
            station, speed = advance(
                station, speed, duration, from_mps2, from_mps2 + jerk * duration
            )
        if len(reached) == len(ends):
            break
    reached += [math.inf] * (len(ends) - len(reached))
    by_plan = _speed(planned, ends[-1])
    pace = speed / by_plan if by_plan > SLOW_MPS else 1.0
    return Driven(now, tuple(commands), tuple(reached), pace)


def _extra(
    law: InStep,
    limits: Limits,
    planned: Motion,
    period: tuple[float, float, float],
    state: tuple[float, float],
    before: tuple[float, Sequence[Command]],
) -> float:
    """The acceleration in m/s2 beside the plan's own that brings it nearer to its place, inside its limits.

    period: plan time at its start, pace, duration. before: the one of the period before, and the plan's own in this.
    """
    run, pace, lasts = period
    station, speed = state
    last, feed = before
    from_mps, to_mps = _speed(planned, run), _speed(planned, run + pace * lasts)
    lost_m = float(planned.at(np.array([run]))[0][0]) - station
    most = to_mps * law.correction_ratio
    wanted = pace * to_mps + lost_m / CATCH_UP_S
    wanted = min(max(wanted, to_mps - most), to_mps + most, limits.speed_mps)
    extra = (wanted - speed - pace * (to_mps - from_mps)) / lasts
    accels = [value for duration, a, j in feed for value in (a, a + j * duration)] or [0.0]
    knots = [knot for knot, _ in limits.accelerate]
    rate = float(np.interp(speed, knots, [accel for _, accel in limits.accelerate]))
    least, greatest = -limits.brake_mps2 - min(accels), rate - max(accels)
    if math.isfinite(limits.jerk_mps3):
        change = limits.jerk_mps3 * lasts
        extra = min(max(extra, last - change), last + change)
    return min(max(extra, least), greatest)


def _feed(planned: Motion, run: float, to_run: float, pace: float, lasts: float) -> list[Command]:
    """The plan's own accelerations between two times of it, driven at a pace; it stands still in the plan at pace 0."""
    if pace <= 0.0:
        return [(lasts, 0.0, 0.0)]
    inside = planned.times_s[(planned.times_s > run) & (planned.times_s < to_run)]
    cuts = np.concatenate(([run], inside, [to_run]))
    middles = (cuts[:-1] + cuts[1:]) / 2
    index = np.clip(
        np.searchsorted(planned.times_s, middles, side="right") - 1,
        0,
        len(planned.accels_from_mps2) - 1,
    )
    moving = (middles >= planned.times_s[0]) & (middles < planned.times_s[-1])
    lengths = planned.times_s[index + 1] - planned.times_s[index]
    jerks = (planned.accels_to_mps2[index] - planned.accels_from_mps2[index]) / lengths
    accels = planned.accels_from_mps2[index] + jerks * (cuts[:-1] - planned.times_s[index])
    durations = np.diff(cuts) / pace
    table = (
        durations,
        np.where(moving, accels, 0.0) * pace**2,
        np.where(moving, jerks, 0.0) * pace**3,
    )
    return [(float(d), float(a), float(j)) for d, a, j in zip(*table, strict=True)]


def _speed(motion: Motion, time_s: float) -> float:
    return float(motion.at(np.array([time_s]))[1][0])


def _times_at(motion: Motion, stations_m: Array, *, last: bool) -> Array:
    """When a motion that never reverses is at stations, shape (n,): the first such time, or the last.

    Before its launch it rolls on as it starts, or has stood for ever; after its end it stands for ever.
    """
    begin_m, end_m = float(motion.stations_m[0]), float(motion.stations_m[-1])
    begin_mps, end_mps = float(motion.speeds_mps[0]), float(motion.speeds_mps[-1])
    inside = np.clip(stations_m, begin_m, end_m)
    before, after = np.full(len(inside), motion.launch_s), np.full(len(inside), motion.end_s)
    for _ in range(HALVINGS):
        middle = (before + after) / 2
        found = motion.at(middle)[0]
        low = found <= inside if last else found < inside
        before, after = np.where(low, middle, before), np.where(low, after, middle)
    early = motion.launch_s + (stations_m - begin_m) / begin_mps if begin_mps > 0.0 else -math.inf
    late = motion.end_s + (stations_m - end_m) / end_mps if end_mps > 0.0 else math.inf
    if last:
        # Below where it begins it is taken to stand there still: until its launch.
        times = np.where(
            stations_m < begin_m, early if begin_mps > 0.0 else motion.launch_s, before
        )
        return np.where(stations_m >= end_m, late, times)
    times = np.where(stations_m <= begin_m, early, after)
    return np.where(stations_m > end_m, late if end_mps > 0.0 else motion.end_s, times)
