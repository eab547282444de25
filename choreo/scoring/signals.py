"""Recorded movers as the signals that rules ask for, by role, on the run's clock."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import field

import numpy as np

from choreo.errors.actors import Actor
from choreo.motion.cubic import gained
from choreo.recordings.record import Floats, Uncertainty
from choreo.rules.cast import Cast
from choreo.rules.evaluating import Sampled
from choreo.rules.records import Role, Signal
from choreo.scoring.pairs import Pair, pair_of
from choreo.scoring.run import OnPath, RecordedRun
from choreo.words.records import dataclass

Key = tuple[Role, Signal]


@dataclass(frozen=True, eq=False)
class Signals:
    """What is known of a run as rules name it. known: by role and signal. references: what is planned of them.

    derived: of what a signal was worked out that no channel holds. u: standard uncertainties, shape (n,), as `known`.
    pairs: the subject with who has a role, as one sees the other.
    """

    known: dict[Key, Sampled] = field(default_factory=dict)
    references: dict[Key, Sampled | float] = field(default_factory=dict)
    derived: dict[Key, str] = field(default_factory=dict)
    u: dict[Key, Floats] = field(default_factory=dict)
    pairs: dict[Role, Pair] = field(default_factory=dict)


def signals_of(run: RecordedRun, cast: Cast, sure: Uncertainty) -> Signals:
    """Give the signals of everybody with a role; sure: of what was measured, zeros for a plain comparison."""
    found = Signals()
    for role, name in cast.movers.items():
        actor = run.stage.actors[name]
        found.references[role, "speed"] = planned_speed(run, name)
        if name in run.movers:
            _add_own(found, role, run, actor, run.movers[name], sure)
        elif name in run.standing:
            still = Sampled(run.time_s, np.zeros(len(run.time_s)))
            found.known[role, "speed"] = found.known[role, "acceleration"] = still
    subject = cast.movers.get("subject")
    for role, name in cast.others().items():
        if subject is not None and subject in run.movers:
            _add_pair(found, role, pair_of(run, subject, name, sure))
    return found


def planned_speed(run: RecordedRun, name: str) -> Sampled:
    """Give the speed that a mover has by plan in m/s, each phase from when it really began."""
    actor, speed = run.stage.actors[name], np.full(len(run.time_s), math.nan)
    speed[:] = actor.start_mps
    met_s = -math.inf
    for step in actor.steps:
        # What follows an encounter begins with that, however the ramp was found.
        begins = max(float(run.performed.spans[name][step.index][0][0]), met_s)
        if step.until is not None:
            met_s = float(run.performed.met[step.until].time_s[0])
        after = run.time_s >= begins
        into = run.time_s[after] - begins
        ends = np.cumsum(step.durations_s)
        if not len(ends) or len(step.accels_mps2) != len(ends):
            speed[after] = step.to_mps
            continue
        piece = np.minimum(np.searchsorted(ends, into, side="right"), len(ends) - 1)
        steps = gained(step.durations_s, step.accels_mps2, step.jerks_mps3)
        before = np.concatenate(([0.0], np.cumsum(steps)))[piece]
        within = np.minimum(into - (ends - step.durations_s)[piece], step.durations_s[piece])
        gain = before + gained(within, step.accels_mps2[piece], step.jerks_mps3[piece])
        speed[after] = step.from_mps + gain
    return Sampled(run.time_s, speed)


def hardest_braking_mps2(actor: Actor, index: int) -> float | None:
    """Give the strongest braking that a phase has by plan, negative; None where it has none."""
    step = next((one for one in actor.steps if one.index == index), None)
    if step is None or not len(step.durations_s):
        return None
    ends = step.accels_mps2 + step.durations_s * step.jerks_mps3
    least = float(min(step.accels_mps2.min(), ends.min()))
    return least if least < 0.0 else None


def _add_own(
    found: Signals, role: Role, run: RecordedRun, actor: Actor, one: OnPath, sure: Uncertainty
) -> None:
    """What is known of one mover alone."""
    times, track = run.time_s, one.track
    path = actor.path.pose(np.nan_to_num(one.station_m)).heading_rad
    way = track.heading_rad - actor.mover.body.points_rad
    off = np.angle(np.exp(1j * (way - path)))
    accel = track.accel_mps2
    if accel is None:
        accel = np.gradient(track.speed_mps, times)
        found.derived[role, "acceleration"] = "speed"
    values: dict[Signal, tuple[Floats, Floats | float]] = {
        "speed": (track.speed_mps, sure.speed_mps),
        "acceleration": (accel, 0.0),
        "lateral deviation": (one.beside_m, sure.position_m),
        "lateral velocity": (
            track.speed_mps * np.sin(off),
            np.abs(track.speed_mps) * sure.heading_rad,
        ),
        "heading": (off, sure.heading_rad),
        "yaw rate": (np.gradient(_unwrapped(one.turned_rad), times), 0.0),
    }
    found.derived[role, "yaw rate"] = "heading"
    for signal, (samples, u) in values.items():
        found.known[role, signal] = Sampled(times, samples)
        found.u[role, signal] = np.broadcast_to(np.asarray(u, dtype=float), times.shape)
    # A velocity beside the lane and one beside the path differ by what the path itself turns.
    found.references[role, "lateral velocity"] = 0.0
    for signal, samples in track.signals.items():
        key = role, signal
        found.known[key] = Sampled(times, samples)
        found.derived.pop(key, None)
        found.u[key] = np.zeros(len(times))


def _unwrapped(heading_rad: Floats) -> Floats:
    """Headings without turns of 360 deg, nan left where it is."""
    known = np.isfinite(heading_rad)
    found = np.full(len(heading_rad), math.nan)
    found[known] = np.unwrap(heading_rad[known])
    return found


def _add_pair(found: Signals, role: Role, pair: Pair | None) -> None:
    if pair is None:
        return
    found.pairs[role] = pair
    for signal, samples, u in _of_pair(pair):
        found.known[role, signal] = Sampled(pair.time_s, samples)
        found.u[role, signal] = u
    found.references[role, "path error"] = 0.0
    found.references[role, "distance"] = Sampled(pair.time_s, pair.planned_gap_m)
    found.references[role, "relative speed"] = Sampled(pair.time_s, pair.planned_relative_mps)


def _of_pair(pair: Pair) -> Iterator[tuple[Signal, Floats, Floats]]:
    yield "distance", pair.gap_m, pair.u_gap_m
    yield "time to collision", pair.left_s, pair.u_left_s
    yield "time gap", pair.gap_s, pair.u_gap_s
    yield "relative speed", pair.relative_mps, np.full(len(pair.time_s), pair.u_relative_mps)
    yield "crossing time error", pair.crossing_s, pair.u_crossing_s
    yield "path error", pair.path_error_m, pair.u_gap_m
