"""Whether movers keep what a run has to keep besides its encounters: their tolerances, limits and ways.

A tolerance of speed or path counts in windows: while a hold has to be settled, or in all holds from an event on; and
at every encounter of its mover.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from choreo.errors.actors import Actor, Step
from choreo.errors.execution import Performed
from choreo.errors.meetings import Known, event_s
from choreo.errors.motions import NEVER_S, RunMotion
from choreo.errors.stage import Stage
from choreo.geometry import felt_mps2
from choreo.motion.cubic import gained
from choreo.plans.record import EncounterPlan
from choreo.scenario import Tolerances
from choreo.track.motion import motion_of
from choreo.words.kinds import ErrorKind
from choreo.words.records import dataclass

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
# In which runs something fails, and when it would, in s after go; both of shape (runs,).
Failing = tuple[Flags, Floats]

# A path and a stroke are left by more than this (m), a tolerance by more than this share of it: the plan itself may
# use all of them.
PATH_SLACK_M = 0.05
SLACK = 1e-6
# A bend is looked at so often over a motion.
LOOKS = 129
RATE_KINDS: tuple[ErrorKind, ErrorKind] = ("achieved acceleration", "achieved braking")


def kept(stage: Stage, performed: Performed) -> Iterator[Failing]:
    """Give for each of `Stage.conditions` that is about one mover alone in which runs it fails, and when; (runs,)."""
    for name, actor in stage.actors.items():
        if actor.moves:
            yield _leaves_path(actor, performed)
        if actor.on_stroke:
            yield _leaves_stroke(actor, performed.motions[name])
    for name, tolerances in stage.scenario.tolerances.items():
        one = _Mover(stage, performed, stage.actors[name], tolerances)
        if tolerances.speed_mps is not None:
            yield one.speed()
        if tolerances.beside_m is not None:
            yield one.beside()
        if tolerances.limits_ratio is not None:
            yield one.limits(1.0 + tolerances.limits_ratio)


def windows_of(
    stage: Stage, performed: Performed, mover: str, tolerances: Tolerances
) -> tuple[tuple[Window, ...], tuple[Window, ...]]:
    """Give the times in which a mover has to be steady, and the moments of its encounters."""
    one = _Mover(stage, performed, stage.actors[mover], tolerances)
    return tuple(one._windows()), tuple(one._encounters())


def _leaves_path(actor: Actor, performed: Performed) -> Failing:
    """A stop may end on the straight beyond the path, but not begin there."""
    motion, last = performed.motions[actor.name], actor.steps[-1]
    stops = last.changes_speed and last.to_mps == 0.0
    begins = performed.spans[actor.name][last.index][0] if stops else motion.end_s
    time_s = np.minimum(begins, motion.end_s)
    return motion.states(time_s)[0] > actor.path.length_m + PATH_SLACK_M, time_s


def _leaves_stroke(actor: Actor, motion: RunMotion) -> Failing:
    """A carrier's stroke is counted from where it stands by plan: there it is rigged."""
    end_m = actor.start_m + actor.mover.limits.stroke_m + PATH_SLACK_M
    return motion.end_station_m > end_m, motion.end_s


@dataclass(frozen=True)
class Window:
    """Between which times of each run, shape (runs,), one planned speed is to be held."""

    from_s: Floats
    until_s: Floats
    held_mps: float


@dataclass(frozen=True, eq=False)
class _Mover:
    """One mover with tolerances, in all runs."""

    stage: Stage
    performed: Performed
    actor: Actor
    tolerances: Tolerances

    @property
    def motion(self) -> RunMotion:
        return self.performed.motions[self.actor.name]

    def speed(self) -> Failing:
        """Off the speed that is planned."""
        low, high = _with_slack(self.tolerances.speed_mps)
        found = _Found(self.motion.runs)
        for window in (*self._windows(), *self._encounters()):
            least, most = self.motion.extremes_mps(window.from_s, window.until_s)
            off = (least < window.held_mps + low) | (most > window.held_mps + high)
            found.add(off, window.from_s)
        return found.failing

    def beside(self) -> Failing:
        """Too far beside its path."""
        low, high = _with_slack(self.tolerances.beside_m)
        found = _Found(self.motion.runs)
        for window in (*self._windows(), *self._encounters()):
            ends = (self.motion.states(one)[0] for one in (window.from_s, window.until_s))
            right, left = self.motion.sideways.extremes_m(*ends)
            off = (window.until_s >= window.from_s) & ((right < low) | (left > high))
            found.add(off, window.from_s)
        return found.failing

    def limits(self, factor: float) -> Failing:
        """Over a limit by more than is allowed before its last encounter. factor: of the limits."""
        actor, motion, found = self.actor, self.motion, _Found(self.motion.runs)
        limits, slack = actor.mover.limits, factor * (1.0 + SLACK)
        start, end = motion.start_s[0], np.minimum(motion.end_s, self._last_met_s())
        found.add(motion.extremes_mps(start, end)[1] > limits.speed_mps * slack, start)
        for kind, used in zip(RATE_KINDS, self._used(), strict=True):
            drawn = self.performed.draws.of(kind, actor.name)
            if drawn is not None:
                found.add(used * drawn > slack, start)
        if actor.shape.bend_per_m > 0.0 and math.isfinite(limits.lateral_mps2):
            for share in np.linspace(0.0, 1.0, LOOKS):
                time_s = start + share * np.maximum(end - start, 0.0)
                station, speed = motion.states(time_s)
                bend = np.abs(actor.path.pose(station).curvature_per_m)
                felt = felt_mps2(actor.path, station, speed**2 * bend)
                found.add(felt > limits.lateral_mps2 * slack, time_s)
        return found.failing

    def _used(self) -> tuple[float, float]:
        """The largest shares of its acceleration and braking that its ramps use by plan, before its last encounter."""
        limits, most, least = self.actor.mover.limits, 0.0, 0.0
        met_s = [one.time_s for one in self._own_encounters.values()]
        for piece in self.stage.plan.movers[self.actor.name].pieces:
            if met_s and piece.start_s >= max(met_s):
                break
            for into in (0.0, piece.duration_s):
                rate = piece.accel_mps2 + into * piece.jerk_mps3
                speed = piece.speed_mps + gained(into, piece.accel_mps2, piece.jerk_mps3)
                most = max(most, rate / float(np.interp(speed, *np.array(limits.accelerate).T)))
                least = max(least, -rate / limits.brake_mps2)
        return most, least

    def _windows(self) -> Iterator[Window]:
        """All that its holds have to be steady in."""
        programme, spans = self.actor.mover.programme, self.performed.spans[self.actor.name]
        for step in self.actor.steps:
            if step.changes_speed or step.to_mps <= 0.0:
                continue
            begins, ends = spans[step.index]
            ends = np.minimum(ends, self.motion.end_s)
            if self.tolerances.since is not None:
                since = event_s(self.stage, self.tolerances.since, self._known)
                until = np.minimum(ends, self._last_met_s())
                yield Window(np.maximum(begins, since), until, step.to_mps)
            elif programme[step.index].settle_s > 0.0:
                yield self._settled(step, ends)

    def _settled(self, step: Step, ends: Floats) -> Window:
        """The time before its end, or before the event by which it has to be settled."""
        phase = self.actor.mover.programme[step.index]
        until = ends
        if phase.settled_by is not None:
            until = event_s(self.stage, phase.settled_by, self._known)
        until = np.where(until < NEVER_S / 2, until, ends)
        return Window(until - phase.settle_s, until, step.to_mps)

    def _encounters(self) -> Iterator[Window]:
        """The moments at which it meets others, at the speed that it has by plan then."""
        planned = motion_of(self.stage.plan.movers[self.actor.name])
        for name, one in self._own_encounters.items():
            met = self.performed.met[name]
            until = np.where(met.met, met.time_s, -np.inf)
            yield Window(met.time_s, until, planned.state(one.time_s).speed_mps)

    def _last_met_s(self) -> Floats:
        """Its last encounter; the end of its motion where it is in none."""
        own = [
            np.where(self.performed.met[name].met, self.performed.met[name].time_s, one.time_s)
            for name, one in self._own_encounters.items()
        ]
        return np.max(own, axis=0) if own else self.motion.end_s

    @property
    def _own_encounters(self) -> dict[str, EncounterPlan]:
        every = self.stage.plan.encounters
        return {name: one for name, one in every.items() if self.actor.name in one.pair}

    @property
    def _known(self) -> Known:
        return self.performed.motions, self.performed.spans, self.performed.acts_s


class _Found:
    """In which runs something was found to fail, and when first."""

    def __init__(self, runs: int) -> None:
        self.first_s = np.full(runs, np.inf)

    def add(self, off: Flags, time_s: Floats) -> None:
        """Take note that it does in some runs from a time on, both of shape (runs,)."""
        self.first_s = np.where(off, np.minimum(self.first_s, time_s), self.first_s)

    @property
    def failing(self) -> Failing:
        return np.isfinite(self.first_s), self.first_s


def _with_slack(band: tuple[float, float] | None) -> tuple[float, float]:
    low, high = band or (-math.inf, math.inf)
    return low - SLACK * abs(low), high + SLACK * abs(high)
