"""A mover's programme as it is driven: legs from where a phase begins to where it ends, and places by name."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

import numpy as np

from choreo.geometry import Path
from choreo.motion.cubic import gained, travelled
from choreo.plans.crew_record import Leg, NamedPlace, Passing, Programme
from choreo.plans.record import EncounterPlan, MoverPlan, Piece, Plan
from choreo.scenario import Scenario
from choreo.track.motion import PlannedMotion, motion_of
from choreo.words.kinds import PHASES, PointName
from choreo.words.tolerances import SAME_POINT_M

# Bisections until the time at a station is exact to the last bit.
HALVINGS = 60
# Jerk (m/s3) and acceleration (m/s2) below these are none: rounding leaves such in pieces.
NO_JERK_MPS3 = 1e-6
NO_ACCEL_MPS2 = 1e-6


def programme_of(name: str, scenario: Scenario, plan: Plan, paths: Mapping[str, Path]) -> Programme:
    """Give the legs and the places of a mover that moves. paths: by mover."""
    mover, path = plan.movers[name], paths[name]
    motion = motion_of(mover)
    legs = tuple(_legs(mover, path))
    places = [_front_at_start(name, scenario, mover), *_brakings(legs)]
    places += _triggers(name, plan, path, motion)
    places += _encounters(name, scenario, plan, paths)
    places += _pieces(path, motion)
    # Places of one moment stand by name.
    places.sort(key=lambda one: (round(one.time_s, 3), one.name))
    turning_m = scenario.turning_radius_m(name)
    return Programme(legs, tuple(places), turning_radius_m=turning_m)


def _legs(mover: MoverPlan, path: Path) -> Iterator[Leg]:
    """Every phase of which there is anything to drive or to wait for; one that changes nothing has no leg."""
    starts = mover.start
    last = Passing(0.0, starts.station_m, starts.x_m, starts.y_m, starts.speed_mps)
    for index, phase in enumerate(mover.phases):
        own = [piece for piece in mover.pieces if piece.phase_index == index]
        if not own and phase.kind == "wait":
            until_s = min(
                (p.start_s for p in mover.pieces if (p.phase_index or 0) > index), default=0.0
            )
            if until_s > last.time_s:
                ends = Passing(until_s, last.station_m, last.x_m, last.y_m, last.speed_mps)
                back = mover.backwards_at(last.station_m)
                yield Leg(phase.name, phase.kind, None, None, last, ends, back)
                last = ends
        if not own:
            continue
        begins, ends = (_passing(path, *state) for state in (_first(own[0]), _last(own[-1])))
        rate, build_up = _rate(own) if PHASES[phase.kind].changes_speed else (None, None)
        back = mover.backwards_at(begins.station_m)
        yield Leg(phase.name, phase.kind, rate, build_up, begins, ends, back)
        last = ends


def _first(piece: Piece) -> tuple[float, float, float]:
    return piece.start_s, piece.station_m, piece.speed_mps


def _last(piece: Piece) -> tuple[float, float, float]:
    u = np.array([piece.duration_s])
    way = float(travelled(u, piece.speed_mps, piece.accel_mps2, piece.jerk_mps3)[0])
    speed = piece.speed_mps + float(gained(u, piece.accel_mps2, piece.jerk_mps3)[0])
    return piece.start_s + piece.duration_s, piece.station_m + way, max(speed, 0.0)


def _passing(path: Path, time_s: float, station_m: float, speed_mps: float) -> Passing:
    x_m, y_m, _ = _pose(path, station_m)
    return Passing(time_s, station_m, x_m, y_m, speed_mps)


def _pose(path: Path, station_m: float) -> tuple[float, float, float]:
    """x and y in m, heading in rad."""
    poses = path.pose(np.array([station_m]))
    return float(poses.x_m[0]), float(poses.y_m[0]), float(poses.heading_rad[0])


def _rate(pieces: list[Piece]) -> tuple[float, float]:
    """The greatest acceleration of a ramp in m/s2, signed, and the time in s over which it grows."""
    ends = [p.accel_mps2 + p.jerk_mps3 * p.duration_s for p in pieces]
    most = max([*(p.accel_mps2 for p in pieces), *ends], key=abs)
    build_up = 0.0
    for piece in pieces:
        if piece.jerk_mps3 * math.copysign(1.0, most) <= NO_JERK_MPS3:
            break
        build_up += piece.duration_s
    return most, build_up


def _front_at_start(name: str, scenario: Scenario, mover: MoverPlan) -> NamedPlace:
    """Where the front is while the reference point is on the start mark, which has a list of its own."""
    start, front_m = mover.start, scenario.movers[name].body.nose_m
    heading = math.radians(start.heading_deg)
    x, y = start.x_m + front_m * math.cos(heading), start.y_m + front_m * math.sin(heading)
    # A rolling mover passes its mark when it is launched; the others stand on it at go.
    time_s = mover.launch_s if start.speed_mps > 0 else 0.0
    return NamedPlace("start mark", "front", time_s, start.station_m, x, y, start.speed_mps)


def _brakings(legs: tuple[Leg, ...]) -> Iterator[NamedPlace]:
    for leg in legs:
        if leg.rate_mps2 is not None and leg.rate_mps2 < -NO_ACCEL_MPS2:
            at = leg.begins
            yield NamedPlace(
                f"braking begins ({leg.phase})", "reference point",
                at.time_s, at.station_m, at.x_m, at.y_m, at.speed_mps,
            )  # fmt: skip


def _triggers(name: str, plan: Plan, path: Path, motion: PlannedMotion) -> Iterator[NamedPlace]:
    for trigger, one in plan.triggers.items():
        if one.watch == name and one.station_m is not None:
            yield _reference(f"trigger {trigger}", path, motion, one.time_s)


def _reference(what: str, path: Path, motion: PlannedMotion, time_s: float) -> NamedPlace:
    state = motion.state(time_s)
    x, y, _ = _pose(path, state.station_m)
    return NamedPlace(what, "reference point", time_s, state.station_m, x, y, state.speed_mps)


def _encounters(
    name: str, scenario: Scenario, plan: Plan, paths: Mapping[str, Path]
) -> Iterator[NamedPlace]:
    """Where bodies touch; of gaps and passes where the ends are that they are told by."""
    for encounter, one in plan.encounters.items():
        if name not in (one.of, one.with_):
            continue
        state = motion_of(plan.movers[name]).state(one.time_s)
        point: PointName = "impact point"
        if one.touches and one.place is not None:
            x, y = one.place
        else:
            point, ahead = _end(name, scenario, plan, one, paths)
            x, y, heading = _pose(paths[name], state.station_m)
            x, y = x + ahead * math.cos(heading), y + ahead * math.sin(heading)
        what = encounter if encounter == one.kind else f"{one.kind} {encounter}"
        yield NamedPlace(what, point, one.time_s, state.station_m, x, y, state.speed_mps)


def _end(
    name: str, scenario: Scenario, plan: Plan, one: EncounterPlan, paths: Mapping[str, Path]
) -> tuple[PointName, float]:
    """The end of a body that an encounter is told by, and how far it is ahead of the reference point, in m."""
    body = scenario.movers[name].body
    if name == one.of or one.kind != "gap":
        return body.leads, body.front_m
    headings = [
        _pose(paths[who], motion_of(plan.movers[who]).state(one.time_s).station_m)[2]
        for who in (one.of, one.with_)
    ]
    if math.cos(headings[1] - headings[0]) < 0:
        return body.leads, body.front_m
    return body.trails, -body.rear_m


def _pieces(path: Path, motion: PlannedMotion) -> Iterator[NamedPlace]:
    """Where named pieces of the path begin and end, as far as the mover passes there."""
    first, last = motion.state(motion.pieces[0, 0]).station_m, motion.state(motion.end_s).station_m
    for piece, (start_m, end_m) in path.marks.items():
        for edge, station_m in (("start", start_m), ("end", end_m)):
            if first - SAME_POINT_M <= station_m <= last + SAME_POINT_M:
                at = _reached_s(motion, station_m)
                yield _reference(f"{edge} of {piece}", path, motion, at)


def _reached_s(motion: PlannedMotion, station_m: float) -> float:
    """When the reference point comes to a station, by bisection: stations only grow."""
    low, high = float(motion.pieces[0, 0]), motion.end_s
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if motion.state(middle).station_m < station_m else (low, middle)
    return high
