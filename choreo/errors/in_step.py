"""The law of a mover that goes in step with another, in many runs at once.

As the plan's page on the format states it and the simulation of a plan executes it; within one period the acceleration
is constant here, which differs from the plan's own by hundredths of a millimetre. What is off with the mover itself is
in it: it goes by the position that it measures, its drive achieves another rate than it is told to, and holds another
speed.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from choreo.errors.course import SLOW_MPS, STEADY_MPS, Course
from choreo.errors.motions import NEVER_S, Reading, RunMotion
from choreo.plans.record import Plan
from choreo.scenario import Scenario
from choreo.scenario.records.in_step import CATCH_UP_S, InStep
from choreo.scenario.records.scenario import Limits
from choreo.words.kinds import PHASES
from choreo.words.records import dataclass

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

# So many periods are told as one piece of constant jerk, exact at its ends.
PERIODS = 10
# How long after its planned end one whose lead doesn't come is followed (s).
PATIENCE_S = 5.0


@dataclass(frozen=True, eq=False)
class Stepping:
    """Who goes in step by plan: the law, its own course and the lead's, and when each of its phases ends by plan.

    tops_mps: the fastest of its planned speeds. begins_s: when its first phase in step does by plan; at_once: whether
    that is its first at all, so that it is launched by progress. settled_s: when its last phase, a hold, begins.
    """

    law: InStep
    limits: Limits
    own: Course
    lead: Course
    ends_s: tuple[float, ...]
    begins_s: float
    settled_s: float
    at_once: bool
    tops_mps: float

    @property
    def period_s(self) -> float:
        """Time between two samples."""
        return 1.0 / self.law.sampling_hz


@dataclass(frozen=True, eq=False)
class Driven:
    """What was driven in step, until everybody drives on at the speed that it has.

    pieces: rows as of RunMotion, shape (6, pieces, runs). time_s, station_m, speed_mps: where that ends, (runs,).
    reached_s: when each phase ended, shape (phases, runs); the last one as it will go on. heard_s: until when it
    listened.
    """

    pieces: Floats
    time_s: Floats
    station_m: Floats
    speed_mps: Floats
    reached_s: Floats
    heard_s: Floats


@dataclass(frozen=True, eq=False)
class Drive:
    """What is off with its own drive and measurement, each of shape (runs,)."""

    held_mps: Floats
    position_m: Floats
    upwards: Floats
    downwards: Floats
    late_s: Floats


def launched_s(stepping: Stepping, lead: RunMotion) -> Floats:
    """Give when progress launches it, shape (runs,), in s after go; NEVER_S where it never does.

    That is when its lead is seen where it is by plan then; while that stands by plan the clock counts.
    """
    seen_s = stepping.begins_s - stepping.law.link_s
    at_m, at_mps = stepping.lead.at(np.array([seen_s]))
    station, speed = float(at_m[0]), float(at_mps.min())
    if speed <= SLOW_MPS:
        return np.full(lead.runs, stepping.begins_s)
    begin, rolling = lead.station_m[0] + lead.position_m, lead.speed_mps[0]
    found = lead.time_at(station - lead.position_m)
    before = (begin >= station) & (rolling > 0.0)
    early = lead.start_s[0] - (begin - station) / np.where(before, rolling, 1.0)
    found = np.where(before, early, found)
    found = np.where(found < NEVER_S, np.maximum(found + stepping.law.link_s, 0.0), NEVER_S)
    return np.asarray(found)


def drive_in_step(
    stepping: Stepping, lead: RunMotion, begins: tuple[Floats, Floats, Floats], drive: Drive
) -> Driven:
    """Drive from when it begins: at which time (s after go), where and how fast, each of shape (runs,)."""
    return _Driving(stepping, lead, begins, drive).driven()


class Company:
    """One that goes in step and its lead, as that moves in these runs; what was driven with it is kept."""

    def __init__(self, stepping: Stepping, lead: RunMotion) -> None:
        self.stepping, self.lead = stepping, lead
        self._launched: Floats | None = None
        self._kept: tuple[tuple[Floats, Floats, Floats], Driven] | None = None

    def moved(self, lead: RunMotion, since_s: Floats) -> None:
        """Take note that its lead moves otherwise from times, shape (runs,), on: nothing new if it listens no more."""
        if self._kept is None or (since_s < self._kept[1].heard_s).any():
            self._kept = self._launched = None
        self.lead = lead

    @property
    def launched_s(self) -> Floats:
        """When progress launches it, shape (runs,), in s after go; NEVER_S where it never does."""
        if self._launched is None:
            self._launched = launched_s(self.stepping, self.lead)
        return self._launched

    def driven(self, begins: tuple[Floats, Floats, Floats], drive: Drive) -> Driven:
        """Give what is driven from times, stations and speeds on, each of shape (runs,)."""
        kept = self._kept
        if kept is None or not all(map(np.array_equal, kept[0], begins)):
            kept = begins, drive_in_step(self.stepping, self.lead, begins, drive)
            self._kept = kept
        return kept[1]


def stepping_of(scenario: Scenario, plan: Plan, name: str) -> Stepping | None:
    """Give how a mover goes in step by plan; None for one that goes by the clock."""
    mover = scenario.movers[name]
    law = mover.in_step
    if law is None:
        return None
    own = plan.movers[name]
    indices = [i for i, phase in enumerate(mover.programme) if phase.name in law.phases]
    before = [piece for piece in own.pieces if (piece.phase_index or 0) < indices[0]]
    now = begins = own.launch_s + sum(piece.duration_s for piece in before)
    ends = []
    for index in indices:
        lasting = [p.duration_s for p in own.pieces if p.phase_index == index]
        now += sum(lasting)
        ends.append(now)
    course = Course.of(own, indices[-1])
    return Stepping(
        law,
        mover.limits,
        course,
        Course.of(plan.movers[law.mover]),
        tuple(ends),
        begins,
        ends[-2] if len(ends) > 1 else begins,
        not before and PHASES[mover.programme[0].kind].moves,
        max(course.rows[-1][2], *(row[2] for row in course.rows)),
    )


class _Listening:
    """How far each run has come, sample after sample."""

    def __init__(self, stepping: Stepping, lead: RunMotion, guess_s: float) -> None:
        """guess_s: how far the runs have about come when they are first listened to, as it is seen."""
        self.stepping, self.lead = stepping, lead
        self.reading = Reading(lead)
        self.guess = np.full(lead.runs, guess_s)
        self.pace = np.ones(lead.runs)

    def hear(self, time_s: float) -> tuple[Floats, Floats]:
        """Give how far the run has come, in plan time (s), and its pace, both (runs,), at a sample."""
        law, course = self.stepping.law, self.stepping.lead
        station, speed = self.reading.at(time_s - law.link_s)
        if time_s - law.link_s < 0.0:
            station = station + (time_s - law.link_s) * speed
        station = station + self.lead.position_m
        guess = self.guess
        steady = course.steady(float(guess[0]))
        if steady is not None:
            at_s, at_m, held_mps, from_s, until_s = steady
            exact = at_s + (station - at_m) / held_mps
            if from_s <= float(exact.min()) and float(exact.max()) < until_s:
                self.pace = speed / held_mps
                self.guess = exact + self.pace * self.stepping.period_s
                return exact + law.link_s, self.pace
        by_plan_m, by_plan_mps = course.at(guess)
        if float(by_plan_mps.min()) > STEADY_MPS:
            for _ in range(2):
                guess = guess + (station - by_plan_m) / np.maximum(by_plan_mps, SLOW_MPS)
                by_plan_m, by_plan_mps = course.at(guess)
        else:
            least, most = course.bounds_s(station)
            # Who waits for its launch is not ahead because it stands beside its mark.
            waits = (speed <= SLOW_MPS) & (guess <= course.from_s[1]) & (course.rows[0][2] == 0.0)
            guess = np.where(waits, guess, np.clip(guess, least, most))
            by_plan_mps = course.at(guess)[1]
        moving = by_plan_mps > SLOW_MPS
        self.pace = np.where(moving, speed / np.where(moving, by_plan_mps, 1.0), 1.0)
        self.guess = guess + self.pace * self.stepping.period_s
        return guess + law.link_s, self.pace


class _Driving:
    """The law, sample after sample."""

    def __init__(
        self,
        stepping: Stepping,
        lead: RunMotion,
        begins: tuple[Floats, Floats, Floats],
        drive: Drive,
    ) -> None:
        self.stepping, self.drive, self.lead = stepping, drive, lead
        self.begins_s, self.station, self.speed = begins
        self.reached = np.full((len(stepping.ends_s), lead.runs), NEVER_S)
        self.run = np.full(lead.runs, stepping.begins_s)
        self.pace = np.ones(lead.runs)
        self.extra = np.zeros(lead.runs)
        self.frozen = np.zeros(lead.runs, dtype=bool)
        # Whether some haven't begun, some still listen, some no longer do.
        self.waiting, self.listening, self.any_frozen = True, True, False
        self.held_at: tuple[float, Floats] = (0.0, np.zeros(lead.runs))
        self.heard_s = np.full(lead.runs, NEVER_S)
        self.pieces: list[Floats] = []

    def driven(self) -> Driven:
        stepping, step = self.stepping, self.stepping.period_s
        known = self.begins_s[self.begins_s < NEVER_S]
        listening = _Listening(stepping, self.lead, stepping.begins_s - stepping.law.link_s)
        k = math.floor(float(known.min()) / step) if len(known) else 0
        planned = stepping.ends_s[-1] - stepping.begins_s
        last = (float(known.max()) if len(known) else 0.0) + planned + PATIENCE_S
        now = np.minimum(self.begins_s, last)
        node = (now, self.station, self.speed)
        parts = 0
        while len(known) and k * step < last:
            self._hear(k * step, listening)
            after = np.maximum(np.minimum((k + 1) * step, last), now)
            self._advance(after - now, k * step)
            if after.ndim and (after == after[0]).all():
                after = np.asarray(after[0])  # from here on all runs are at one time
            now, parts, k = after, parts + 1, k + 1
            settled = not self.waiting and not self.listening
            settled = settled and float(self.run.min()) >= stepping.settled_s
            if parts == PERIODS or settled or k * step >= last:
                self._tell(node, now)
                node, parts = (now, self.station, self.speed), 0
            if settled:
                break
        self.reached[-1] = np.where(
            self.reached[-1] < NEVER_S, self.reached[-1], self._ahead_s(stepping.ends_s[-1], now)
        )
        told = np.stack(self.pieces, axis=1) if self.pieces else np.zeros((6, 0, len(self.run)))
        time_s = np.full_like(self.run, now)
        return Driven(told, time_s, self.station, self.speed, self.reached, self.heard_s)

    def _hear(self, time_s: float, listening: _Listening) -> None:
        """Learn how far each run has come; freeze those that no longer listen."""
        stepping = self.stepping
        if self.listening:
            run, pace = listening.hear(time_s)
            if self.waiting:
                run = run + pace * np.clip(self.begins_s - time_s, 0.0, stepping.period_s)
            if self.any_frozen:
                run = np.where(self.frozen, self.run, run)
                pace = np.where(self.frozen, self.pace, pace)
            self.run, self.pace = run, pace
        from_s = stepping.ends_s[-1] - (stepping.law.frozen_s or 0.0)
        self.waiting = self.waiting and float(self.begins_s.max()) > time_s
        if not self.listening or float(self.run.max()) < from_s:
            return
        freezes = (self.begins_s <= time_s) & ~self.frozen & (self.run >= from_s)
        if freezes.any():
            by_plan = stepping.own.at(self.run)[1]
            moving = freezes & (by_plan > SLOW_MPS)
            own = (self.speed - self._held(by_plan)) / np.where(moving, by_plan, 1.0)
            self.pace = np.where(moving, own, np.where(freezes, 1.0, self.pace))
            self.frozen |= freezes
            self.heard_s = np.where(freezes, time_s, self.heard_s)
            self.any_frozen, self.listening = True, not self.frozen.all()

    def _held(self, by_plan_mps: Floats) -> Floats:
        """By how much more than it is told it drives, at this speed by plan; of shape (runs,)."""
        if by_plan_mps.ndim:
            return np.asarray(self.drive.held_mps * (by_plan_mps / self.stepping.tops_mps))
        speed, held = self.held_at
        if speed != float(by_plan_mps):
            speed = float(by_plan_mps)
            held = self.drive.held_mps * (speed / self.stepping.tops_mps)
            self.held_at = speed, held
        return held

    def _advance(self, lasting: Floats, time_s: float) -> None:
        """Drive until the next sample, lasting seconds (0 of one that hasn't begun)."""
        stepping = self.stepping
        to_run = self.run + self.pace * lasting
        first, last = float(self.run.min()), float(to_run.max())
        for index, end_s in enumerate(stepping.ends_s):
            if first <= end_s < last:
                crossing = (self.run <= end_s) & (to_run > end_s) & (lasting > 0.0)
                started = np.maximum(self.begins_s, time_s)
                self.reached[index] = np.where(
                    crossing, self._ahead_s(end_s, started), self.reached[index]
                )
        by_plan_m, from_mps = stepping.own.between(self.run, first, last)
        _, to_mps = stepping.own.between(to_run, first, last)
        lasts = lasting > 0.0
        every = bool(lasts.all())
        over = lasting if every else np.where(lasts, lasting, 1.0)
        gains = to_mps - from_mps
        feed = self.pace * gains if gains.any() else gains
        lost = by_plan_m - (self.station + self.drive.position_m)
        most = stepping.law.correction_ratio * to_mps
        highest = np.minimum(to_mps + most, stepping.limits.speed_mps)
        wanted = np.maximum(self.pace * to_mps + lost / CATCH_UP_S, to_mps - most)
        wanted = np.minimum(wanted, highest)
        told = self.speed - self._held(from_mps)
        extra = (wanted - told - feed) / over
        accel = self._limited(feed / over, extra, over)
        if stepping.at_once and first < stepping.begins_s + float(self.drive.late_s.max()):
            waits = stepping.begins_s + self.drive.late_s > to_run
            accel = np.where(waits, 0.0, accel)
        accel = accel * np.where(accel > 0.0, self.drive.upwards, self.drive.downwards)
        speed = told + accel * over + self._held(to_mps)
        station = self.station + (self.speed + speed) * (lasting / 2.0)
        self.station = station if every else np.where(lasts, station, self.station)
        self.speed = speed if every else np.where(lasts, speed, self.speed)
        self.run = to_run if every else np.where(lasts, to_run, self.run)

    def _limited(self, feed: Floats, extra: Floats, lasting: Floats) -> Floats:
        """What it accelerates with, inside its limits; all in m/s2, shape (runs,)."""
        limits = self.stepping.limits
        if self.any_frozen:
            extra = np.where(self.frozen, 0.0, extra)
        if math.isfinite(limits.jerk_mps3):
            change = limits.jerk_mps3 * lasting
            extra = np.minimum(np.maximum(extra, self.extra - change), self.extra + change)
        if len(limits.accelerate) == 1:
            most: Floats | float = limits.accelerate[0][1]
        else:
            most = np.interp(self.speed, *np.array(limits.accelerate).T)
        extra = np.maximum(np.minimum(extra, most - feed), -limits.brake_mps2 - feed)
        self.extra = np.where(self.frozen, 0.0, extra) if self.any_frozen else extra
        return np.asarray(feed + self.extra)

    def _ahead_s(self, run_s: float, now: Floats) -> Floats:
        """When the run comes to a time of the plan at its pace, shape (runs,)."""
        moving = self.pace > SLOW_MPS
        ahead = (run_s - self.run) / np.where(moving, self.pace, 1.0)
        return np.where(moving & (now < NEVER_S), now + ahead, NEVER_S)

    def _tell(self, node: tuple[Floats, Floats, Floats], now: Floats) -> None:
        """A piece of constant jerk from a node to now: with its speeds and stations."""
        time_s, station, speed = node
        lasting = now - time_s
        lasts = lasting > 0.0
        over = np.where(lasts, lasting, 1.0)
        mean = (self.station - station) / over
        rate = (6.0 * mean - 4.0 * speed - 2.0 * self.speed) / over
        jerk = (6.0 * (speed + self.speed) - 12.0 * mean) / over**2
        if not lasts.all():
            rate, jerk = np.where(lasts, rate, 0.0), np.where(lasts, jerk, 0.0)
        piece = np.empty((6, len(station)))
        for row, value in zip(piece, (time_s, lasting, station, speed, rate, jerk), strict=True):
            row[:] = value
        self.pieces.append(piece)
