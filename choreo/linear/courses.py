"""A mover's course as rows: its phases one after the other, its room, what its own ramps must keep to."""

from __future__ import annotations

import math
from collections.abc import Callable

from choreo.linear.affine import Affine, given, unknown
from choreo.linear.curves import Relation
from choreo.linear.model import Model
from choreo.linear.profile import (
    LONGEST_RATIO,
    Profile,
    gentler,
    profile_of,
    quickest_of,
    slowest_of,
    way_per_time,
)
from choreo.linear.records import Course, NotLinear, Step
from choreo.linear.rows import ROUNDING, Row, at_least, equal
from choreo.motion import least_lost_m, least_ramp_distance_m, least_ramp_time_s
from choreo.problem.records import Hold, MoverProblem, Ramp, Wait


def add_course(model: Model, mover: MoverProblem) -> Course:
    """Add a mover's rows and give its course. Raises NotLinear: a speed or a shape is left to choose."""
    name = mover.name
    start = given(mover.start.lo) if mover.start.fixed else unknown(f"{name}: start")
    if not mover.start.fixed:
        model.rows.append(
            Row(
                start,
                mover.start.lo,
                mover.start.hi,
                f"start of {name}",
                "m",
                mover.start_origin,
            )
        )
    if not mover.phases:
        return Course(mover, start, given(0.0), (), given(0.0), start)
    launch = unknown(f"{name}: launch")
    what = f"launch of {name}, at go or later"
    model.rows.append(at_least(launch, mover.launch_latency_s, what, "s"))
    time, station, speed = launch, start, mover.start_speed_mps
    steps = []
    for index, phase in enumerate(mover.phases):
        profile = None
        lasts, way = given(0.0), given(0.0)
        if isinstance(phase, Ramp):
            if phase.direction < 0 and mover.braked_late:
                what = f"{name} {phase.name}: its command, at go or later"
                model.rows.append(at_least(time, mover.brake_latency_s, what, "s", phase.origin))
            profile = (quickest_of if phase.chosen else profile_of)(phase, speed)
            if profile is None:
                raise NotLinear(f"{name} {phase.name}")
            lasts, way = given(profile.duration_s), given(profile.way_m)
            if phase.chosen and (name, index) not in model.freed:
                raise NotLinear(f"{name} {phase.name}")
            if (name, index) in model.freed:
                shaped = _any_way if model.anyhow else _gentler
                lasts, way = shaped(model, name, index, phase, profile)
        elif isinstance(phase, Hold) or index > 0:
            lasts = _lasting(model, name, index, phase, speed)
            way = lasts.times(speed) if isinstance(phase, Hold) else given(0.0)
        free = lasts if (name, index) in model.freed else None
        anyhow = model.anyhow and free is not None
        waits = isinstance(phase, Wait)
        steps.append(Step(index, time, station, speed, profile, waits, free, anyhow))
        time, station = time.plus(lasts), station.plus(way)
        speed = profile.end_mps if profile is not None else speed
    course = Course(mover, start, launch, tuple(steps), time, station)
    _room(model, course)
    return course


def _any_way(
    model: Model, name: str, index: int, ramp: Ramp, profile: Profile
) -> tuple[Affine, Affine]:
    """A ramp of any shape inside its limits: what no shape can beat. Source of the bounds: motion/bounds.py."""
    lasts, way = unknown(f"{name} {index}: duration"), unknown(f"{name} {index}: way")
    start, end = profile.start_mps, profile.end_mps
    slow, fast = sorted((start, end))
    bounds = (start, end, ramp.table, ramp.jerk_mps3)
    lost, ahead = least_lost_m(*bounds)
    label, origin = f"{name} {ramp.name}", ramp.origin
    model.rows += [
        at_least(lasts, least_ramp_time_s(*bounds), label, "s", origin),
        at_least(way, least_ramp_distance_m(*bounds), label, "m", origin),
        at_least(lasts.times(fast).minus(way), lost, f"{label}: way lost", "m", origin),
        at_least(way.minus(lasts.times(slow)), ahead, f"{label}: way gained", "m", origin),
    ]
    _no_slower(model, ramp, lasts, start)
    if ramp.within_m is not None:
        model.rows.append(at_least(given(ramp.within_m), way, f"{label}: within", "m", origin))
    if ramp.over_m is not None:
        model.rows.append(equal(way, ramp.over_m, f"{label}: over", "m", origin))
    if ramp.lasting_s is not None:
        model.rows.append(equal(lasts, ramp.lasting_s, f"{label}: lasting", "s", origin))
    return lasts, way


def _gentler(
    model: Model, name: str, index: int, ramp: Ramp, profile: Profile
) -> tuple[Affine, Affine]:
    """A ramp that may last longer than at its limit, and the way that it makes then.

    profile: as it is driven where nothing asks for more or less.
    """
    lasts = unknown(f"{name} {index}: duration")
    label, origin = f"{name} {ramp.name}", ramp.origin
    quickest = _quickest(ramp, profile)
    what = f"{label} at its limit"
    model.rows.append(at_least(lasts, quickest.duration_s, what, "s", origin))
    _no_slower(model, ramp, lasts, profile.start_mps)
    mean = way_per_time(ramp, profile)
    if mean is not None:
        way = lasts.times(mean)
        if ramp.within_m is not None:
            model.rows.append(at_least(given(ramp.within_m), way, f"{label}: within", "m", origin))
        return lasts, way
    way = over_duration(model, ramp, profile, lasts, f"{name} {index}: way", lambda one: one.way_m)
    return lasts, way


def over_duration(
    model: Model,
    ramp: Ramp,
    profile: Profile,
    lasts: Affine,
    label: str,
    of: Callable[[Profile], float],
) -> Affine:
    """Give what `of` tells of a ramp, as a curve over how long it lasts; profile: at its limit."""

    def curve(duration_s: float) -> tuple[float, float]:
        made = [
            of(gentler(ramp, profile.start_mps, duration_s * share) or profile)
            for share in (1.0, 1.001)
        ]
        return made[0], (made[1] - made[0]) / (0.001 * duration_s)

    value, rate = unknown(label), unknown(f"{label}, rate")
    bounds = (profile.duration_s, LONGEST_RATIO * profile.duration_s)
    model.relations.append(Relation(label, lasts, value, Affine(), rate, curve, bounds))
    return value


def _no_slower(model: Model, ramp: Ramp, lasts: Affine, start_mps: float) -> None:
    """A ramp lasts no longer than at the least rate that is asked for."""
    slowest = slowest_of(ramp, start_mps)
    if slowest is not None:
        what = f"{ramp.name} at its least rate"
        model.rows.append(Row(lasts, -math.inf, slowest.duration_s, what, "s", ramp.origin))


def _quickest(ramp: Ramp, profile: Profile) -> Profile:
    """The profile at the limit; where the usual rate's way is no share of it, that of the usual rate."""
    if ramp.limit is not None and len(ramp.limit) == 1:
        return quickest_of(ramp, profile.start_mps) or profile
    return profile


def _lasting(model: Model, name: str, index: int, phase: Wait | Hold, speed: float) -> Affine:
    if phase.for_s is not None:
        return given(phase.for_s)
    if isinstance(phase, Hold) and phase.for_m is not None:
        return given(phase.for_m / speed)
    lasts = unknown(f"{name} {index}: duration")
    model.rows.append(at_least(lasts, 0.0, "", "s"))
    return lasts


def _room(model: Model, course: Course) -> None:
    mover, name = course.mover, course.mover.name
    model.rows.append(
        Row(
            course.end_station,
            -math.inf,
            mover.room.hi,
            f"end of the path of {name}",
            "m",
            mover.room_origin,
        )
    )
    if math.isfinite(mover.stroke_m):
        travelled = course.end_station.minus(course.start)
        model.rows.append(
            Row(
                travelled,
                -math.inf,
                mover.stroke_m,
                f"stroke of {name}",
                "m",
                mover.stroke_origin,
            )
        )
    for index, step in enumerate(course.steps):
        phase = mover.phases[index]
        if step.profile is None or not isinstance(phase, Ramp):
            continue
        label = f"{name} {phase.name}"
        way, lasts = given(step.profile.way_m), given(step.profile.duration_s)
        for limit, word in ((phase.within_m, "within"), (phase.over_m, "over")):
            if limit is not None:
                model.rows.append(
                    Row(way, -math.inf, limit + ROUNDING, f"{label}: {word}", "m", phase.origin)
                )
        if step.lasts is not None:
            continue
        if phase.build_up_s is not None and math.isfinite(phase.jerk_mps3):
            built = given(step.profile.most_jerk_mps3)
            what = f"{label}: jerk, build-up"
            model.rows.append(
                Row(built, -math.inf, phase.jerk_mps3 + ROUNDING, what, "m/s3", phase.origin)
            )
        if phase.lasting_s is not None:
            model.rows.append(
                Row(
                    lasts,
                    -math.inf,
                    phase.lasting_s + ROUNDING,
                    f"{label}: lasting",
                    "s",
                    phase.origin,
                )
            )
