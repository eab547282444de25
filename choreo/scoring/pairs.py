"""The subject and another as recorded: gap along the subject's path, closing speed, the time left, beside the plan."""

from __future__ import annotations

import math

import numpy as np

from choreo.errors.actors import Actor
from choreo.recordings.record import Floats, Uncertainty
from choreo.scoring.projecting import TURNED_S, averaged, stations_of
from choreo.scoring.run import RecordedRun
from choreo.track.motion import motion_of
from choreo.words.records import dataclass

# Slower than this (m/s) nothing closes, and nobody gets to a crossing.
SLOW_MPS = 0.1
# A plan is looked at so often (s).
CLOCK_S = 0.01


@dataclass(frozen=True, eq=False)
class Pair:
    """Subject and another, each of shape (n,), SI; nan where either isn't known.

    gap_m: along the subject's path, from its front to the nearest part of the other. closing_mps: along that path.
    left_s: time to collision, gap over closing speed, without accelerations; inf where nothing closes. gap_s: gap over
    the subject's speed. relative_mps: subject less other. crossing_s: by how much the subject is later at the planned
    contact than the other, each by its way and speed; nan without a contact. path_error_m: how far the other is ahead
    of where it is by plan when the subject is where it is. planned_*: by plan when the subject is where it is.
    """

    time_s: Floats
    gap_m: Floats
    closing_mps: Floats
    left_s: Floats
    gap_s: Floats
    relative_mps: Floats
    crossing_s: Floats
    path_error_m: Floats
    planned_gap_m: Floats
    planned_relative_mps: Floats
    u_gap_m: Floats
    u_left_s: Floats
    u_gap_s: Floats
    u_relative_mps: float
    u_crossing_s: Floats


def pair_of(run: RecordedRun, subject: str, other: str, sure: Uncertainty) -> Pair | None:
    """Give what one sees of the other; None where the other was not recorded and moves."""
    if other not in run.movers and other not in run.standing:
        return None
    us, them = run.stage.actors[subject], run.stage.actors[other]
    own = run.movers[subject]
    x, y, heading, station, speed = _of_other(run, other)
    own_mps = _calm(run, own.track.speed_mps)
    along, _ = stations_of(us.path, x, y)
    turned = heading - us.path.pose(np.nan_to_num(along)).heading_rad
    gap = along + _rear_m(them, turned) - own.station_m - us.mover.body.front_m
    closing = own_mps - speed * np.cos(turned)
    planned = _planned(run, subject, other)
    with np.errstate(divide="ignore", invalid="ignore"):
        left = np.where(closing > SLOW_MPS, gap / closing, math.inf)
        gap_s = np.where(own_mps > SLOW_MPS, gap / own_mps, math.nan)
        places = math.sqrt(2.0) * sure.position_m
        u_left = np.hypot(places, left * math.sqrt(2.0) * sure.speed_mps) / np.abs(closing)
        u_gap = np.hypot(places, gap_s * sure.speed_mps) / own_mps
        crossing, u_crossing = _crossing(run, (subject, other), (own_mps, speed), station, sure)
    left = np.where(np.isfinite(gap) & np.isfinite(closing), left, math.nan)
    at = np.interp(own.station_m, planned[0], planned[1])
    error = station - np.interp(own.station_m, planned[0], planned[2])
    return Pair(
        run.time_s,
        gap,
        closing,
        left,
        gap_s,
        own.track.speed_mps - speed,
        crossing,
        error,
        at,
        np.interp(own.station_m, planned[0], planned[3]),
        np.full(len(gap), places),
        np.where(np.isfinite(u_left), u_left, 0.0),
        np.where(np.isfinite(u_gap), u_gap, 0.0),
        math.sqrt(2.0) * sure.speed_mps,
        u_crossing,
    )


def _rear_m(actor: Actor, turned_rad: Floats) -> Floats:
    """How far the nearest part of a body is ahead of its reference point, seen along a path, shape (n,)."""
    x, y = np.asarray(actor.mover.body.corners_m, dtype=float).T[:, :, None]
    return np.asarray((x * np.cos(turned_rad) - y * np.sin(turned_rad)).min(axis=0))


def _calm(run: RecordedRun, values: Floats) -> Floats:
    """Without noise of single samples, which a ratio would make much of."""
    step = float(np.median(np.diff(run.time_s)))
    return averaged(values, max(round(TURNED_S / step), 1))


def _of_other(run: RecordedRun, name: str) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Place, direction, station and speed of the other; of one that stands and was not recorded as planned."""
    count = len(run.time_s)
    if name in run.movers:
        one = run.movers[name]
        track = one.track
        speed = _calm(run, track.speed_mps)
        way = track.heading_rad - run.stage.actors[name].mover.body.points_rad
        return track.x_m, track.y_m, way, one.station_m, speed
    actor = run.stage.actors[name]
    pose = actor.path.pose(np.array([actor.start_m]))
    place = (float(pose.x_m[0]), float(pose.y_m[0]), float(pose.heading_rad[0]))
    fixed = (*place, actor.start_m, 0.0)
    x, y, turned, station, speed = (np.full(count, one) for one in fixed)
    return x, y, turned, station, speed


def _planned(run: RecordedRun, subject: str, other: str) -> tuple[Floats, Floats, Floats, Floats]:
    """By stations of the subject: gap, the other's station, relative speed; shape (times,), stations rising."""
    plan, (us, them) = run.stage.plan, (run.stage.actors[name] for name in (subject, other))
    ours, theirs = (motion_of(plan.movers[name]) for name in (subject, other))
    ends = max(
        (piece.start_s + piece.duration_s for piece in plan.movers[subject].pieces), default=1.0
    )
    times = np.arange(0.0, ends + CLOCK_S, CLOCK_S)
    station, own_mps = ours.states(times)
    there, their_mps = theirs.states(times)
    relative = own_mps - their_mps
    pose = them.path.pose(there)
    along, _ = stations_of(us.path, pose.x_m, pose.y_m)
    turned = pose.heading_rad - us.path.pose(along).heading_rad
    gap = along + _rear_m(them, turned) - station - us.mover.body.front_m
    rising = np.concatenate(([True], np.diff(np.maximum.accumulate(station)) > 0.0))
    return station[rising], gap[rising], there[rising], relative[rising]


def _crossing(
    run: RecordedRun,
    names: tuple[str, str],
    speeds: tuple[Floats, Floats],
    their_m: Floats,
    sure: Uncertainty,
) -> tuple[Floats, Floats]:
    """Time error at the planned contact and its uncertainty, shape (n,)."""
    count = len(run.time_s)
    planned = next(
        (one for one in run.stage.plan.encounters.values() if one.touches and one.pair == {*names}),
        None,
    )
    if planned is None:
        return np.full(count, math.nan), np.zeros(count)
    meet = {planned.of: planned.station_of_m, planned.with_: planned.station_with_m}
    own_mps, their_mps = speeds
    ours, theirs = meet[names[0]] - run.movers[names[0]].station_m, meet[names[1]] - their_m
    moving = (own_mps > SLOW_MPS) & (their_mps > SLOW_MPS)
    error = np.where(moving, ours / own_mps - theirs / their_mps, math.nan)
    parts = [
        np.hypot(sure.position_m, way / v * sure.speed_mps) / v
        for way, v in ((ours, own_mps), (theirs, their_mps))
    ]
    u = np.hypot(*parts)
    return error, np.where(moving & np.isfinite(u), u, 0.0)
