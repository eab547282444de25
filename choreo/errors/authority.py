"""What one that goes in step can still make good: the law itself is driven with delays and leads of the other one.

A delay that begins at an instant is one by which the other one's motion comes later from then on, a lead one by which
it comes sooner.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from choreo.errors.course import SLOW_MPS
from choreo.errors.in_step import Drive, Stepping, drive_in_step, launched_s
from choreo.errors.motions import NEVER_S, RunMotion, Sideways
from choreo.errors.stage import Stage
from choreo.plans.authority_record import Authority
from choreo.plans.record import EncounterPlan
from choreo.track.motion import PlannedMotion, motion_of

Floats = NDArray[np.float64]

# Instants that are looked at between the launch and the encounter; delays that are tried at each at once, how often.
INSTANTS = 13
TRIES, ROUNDS = 10, 3
# Nothing longer (s) is looked for: it is any then.
MOST_S = 2.0
# What is no more than what the tolerance forgives by itself, and this share of it, is nothing.
BESIDE = 0.1


def authorities_of(stage: Stage) -> tuple[Authority, ...]:
    """Give the authority of every mover that goes in step until it meets somebody."""
    found = []
    for name, actor in stage.actors.items():
        own = {key: one for key, one in stage.plan.encounters.items() if name in one.pair}
        key = min(own, key=lambda one: own[one].time_s, default=None)
        if actor.stepping is not None and key is not None:
            found.append(_authority(stage, name, actor.stepping, key))
    return tuple(found)


def _authority(stage: Stage, name: str, stepping: Stepping, encounter: str) -> Authority:
    planned = stage.plan.encounters[encounter]
    lead = motion_of(stage.plan.movers[stepping.law.mover])
    own = motion_of(stage.plan.movers[name])
    tolerance_m = _tolerance_m(planned, own)
    begins = max(stepping.begins_s, 0.0)
    times = np.linspace(begins, max(planned.time_s, begins), INSTANTS)
    made_good = _Making(stepping, own, lead, planned.time_s, tolerance_m)
    late, early = made_good.most(times)
    speeds = lead.states(times)[1]
    little_s = (1.0 + BESIDE) * tolerance_m / max(own.state(planned.time_s).speed_mps, SLOW_MPS)
    little = np.maximum(late, early) <= little_s
    # Once it has run out it does not come back: the first instant after the last at which there is some.
    some = np.flatnonzero(~little)
    after = int(some[-1]) + 1 if len(some) else 0
    return Authority(
        mover=name,
        lead=stepping.law.mover,
        encounter=encounter,
        meets_s=planned.time_s,
        tolerance_m=tolerance_m,
        times_s=tuple(map(float, times)),
        late_s=tuple(map(_told, late)),
        early_s=tuple(map(_told, early)),
        late_m=tuple(
            _told(one * v if one < MOST_S else one) for one, v in zip(late, speeds, strict=True)
        ),
        early_m=tuple(
            _told(one * v if one < MOST_S else one) for one, v in zip(early, speeds, strict=True)
        ),
        little_s=little_s,
        runs_out_s=float(times[min(after, len(times) - 1)]),
    )


def _told(value: float) -> float | None:
    return None if value >= MOST_S else float(value)


def _tolerance_m(planned: EncounterPlan, own: PlannedMotion) -> float:
    """How far along its path it may be off: a tolerance in s is the way at its speed then."""
    if planned.unit == "m":
        return planned.tolerance
    return planned.tolerance * own.state(planned.time_s).speed_mps


class _Making:
    """Runs of the law, one for each instant and delay that is tried."""

    def __init__(
        self,
        stepping: Stepping,
        own: PlannedMotion,
        lead: PlannedMotion,
        meets_s: float,
        tolerance_m: float,
    ) -> None:
        self.stepping, self.lead, self.meets_s = stepping, lead, meets_s
        self.place_m = own.state(meets_s).station_m
        self.tolerance_m = tolerance_m

    def most(self, times: Floats) -> tuple[Floats, Floats]:
        """Give the longest delays and leads from instants on, in s, each of shape (instants,); MOST_S: any."""
        count = len(times)
        sign = np.repeat([1.0, -1.0], count)
        both = np.concatenate((times, times))
        low, high = np.zeros(2 * count), np.full(2 * count, MOST_S)
        # What has yet to be driven can't be driven sooner than at once.
        high[count:] = np.clip(self.meets_s - times, 0.0, MOST_S)
        for _ in range(ROUNDS):
            step = (high - low) / TRIES
            tried = low + step * np.arange(1, TRIES + 1)[:, None]
            signed = (sign * tried).ravel()
            well = self._well(np.tile(both, TRIES), signed).reshape(TRIES, 2 * count)
            good = np.minimum.accumulate(well, axis=0).sum(axis=0)
            low, high = low + good * step, np.where(good < TRIES, low + (good + 1) * step, high)
        any_ = low >= MOST_S * (1.0 - 1e-9)
        return np.where(any_, MOST_S, low)[:count], np.where(any_, MOST_S, low)[count:]

    def _well(self, times: Floats, late_s: Floats) -> NDArray[np.bool_]:
        """Whether the encounter comes out with delays (below 0: leads) that begin at instants, both (runs,)."""
        lead = _delayed(self.lead, times, late_s)
        stepping, zero = self.stepping, np.zeros(len(times))
        begins = launched_s(stepping, lead) if stepping.at_once else zero + stepping.begins_s
        (start,), (speed,) = stepping.own.at(np.array([stepping.begins_s]))
        drive = Drive(zero, zero, zero + 1.0, zero + 1.0, zero)
        driven = drive_in_step(stepping, lead, (begins, zero + start, zero + speed), drive)
        table = np.array(np.swapaxes(driven.pieces, 0, 1)).reshape(-1, 6, len(times))
        still = np.zeros_like(zero)
        last = np.stack(
            (driven.time_s, zero + NEVER_S, driven.station_m, driven.speed_mps, still, still)
        )
        rows = np.concatenate((table, last[None]))
        motion = _runs(rows)
        there, _ = motion.states(self.meets_s + late_s)
        return np.asarray(np.abs(there - self.place_m) <= self.tolerance_m)


def _delayed(lead: PlannedMotion, times: Floats, late_s: Floats) -> RunMotion:
    """A motion by plan that comes later from instants on; both of shape (runs,)."""
    zero = np.zeros(len(times))
    pieces = [(-1.0, lead.pieces[0, 0] + 1.0, *_before(lead), 0.0, 0.0), *lead.pieces.tolist()]
    end_m, end_mps = lead.states(np.array([lead.end_s]))
    pieces.append((lead.end_s, NEVER_S, float(end_m[0]), float(end_mps[0]), 0.0, 0.0))
    rows = []
    for later in (False, True):
        for start, lasting, *motion in pieces:
            shift = late_s if later else zero
            begins, ends = zero + start + shift, zero + start + lasting + shift
            low = np.maximum(begins, times) if later else np.minimum(begins, times)
            high = ends if later else np.minimum(ends, times)
            rows.append(
                _part(np.maximum(low, begins) - begins, np.maximum(high - low, 0.0), low, motion)
            )
    return _runs(np.stack(rows))


def _runs(rows: Floats) -> RunMotion:
    """Motions of rows, shape (pieces, 6, runs)."""
    start, lasting, station, speed, accel, jerk = np.swapaxes(rows, 0, 1)
    zero = np.zeros(rows.shape[2])
    return RunMotion(start, lasting, station, speed, accel, jerk, Sideways(zero), zero)


def _before(lead: PlannedMotion) -> tuple[float, float]:
    """Station and speed a second before go."""
    station, speed = lead.states(np.array([-1.0]))
    return float(station[0]), float(speed[0])


def _part(into: Floats, lasting: Floats, start: Floats, motion: list[float]) -> Floats:
    """A piece from some time into it on, shape (6, runs)."""
    station, speed, accel, jerk = motion
    at_m = station + into * (speed + into * (accel / 2 + into * jerk / 6))
    at_mps = speed + into * (accel + into * jerk / 2)
    return np.stack((start, lasting, at_m, at_mps, accel + into * jerk, np.full_like(into, jerk)))
