"""Triggers as rows: when the watched mover crosses the setting, and what the setting is then."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import assert_never

from choreo.linear.affine import Affine, given, unknown
from choreo.linear.courses import over_duration
from choreo.linear.model import Model
from choreo.linear.profile import Profile
from choreo.linear.records import Choice, Course, Crossed, Look, Step, before_launch
from choreo.linear.rows import Row, at_least, equal
from choreo.motion import least_ramp_time_s
from choreo.problem.graph import waits_for
from choreo.problem.records import Hold, PassAt, Ramp, TriggerProblem
from choreo.words.kinds import Unit

# How often a ramp is looked at for an earlier crossing, and how far (m) from it the setting must be there.
EARLIER_LOOKS = 48
# ... where its way is a curve over its duration, which costs more.
BENT_LOOKS = 4
EARLIER_M = 2e-3


def add_crossing(model: Model, trigger: TriggerProblem) -> None:
    """Add when a trigger is crossed, and when it acts."""
    crossing = unknown(f"trigger {trigger.name}: crossing")
    model.rows.append(at_least(crossing, 0.0, "", "s"))
    delay = trigger.expected_detection_s + trigger.latency_s
    course = model.courses[trigger.watch]
    station: Affine
    within = trigger.during_phase
    if within is not None:
        step, phase = course.steps[within], course.mover.phases[within]
        settle = phase.settle_s if isinstance(phase, Hold) else 0.0
        what = f"{trigger.watch} settled when {trigger.name} fires"
        model.rows.append(at_least(crossing, step.time.plus(settle), what, "s", phase.origin))
        leaves = f"{trigger.name} fires before {trigger.watch} changes speed"
        model.rows.append(at_least(course.time(within + 1), crossing, leaves, "s", trigger.origin))
    if within is not None and isinstance(course.mover.phases[within], Hold):
        station = step.station.plus(crossing.minus(step.time).times(step.speed_mps))
    elif trigger.condition == "speed":
        station = _speed_crossing(model, trigger, course, crossing)
    else:
        last = _ended_by(model, trigger, trigger.watch)
        station = model.look(trigger.watch, crossing, f"trigger {trigger.name}", last).station
    model.triggers[trigger.name] = Crossed(crossing, station, crossing.plus(delay))


def _speed_crossing(
    model: Model, trigger: TriggerProblem, course: Course, crossing: Affine
) -> Affine:
    """The first ramp that passes the setting; a setting in a range is any speed of any ramp that it holds.

    Gives the station at the crossing.
    """
    ways = []
    label = f"trigger {trigger.name}"
    for step in course.steps:
        if step.profile is None:
            continue
        low, high = sorted((step.profile.start_mps, step.profile.end_mps))
        least, most = max(low, trigger.setting.lo), min(high, trigger.setting.hi)
        if least > most:
            continue
        if step.lasts is not None and not step.anyhow and trigger.setting.fixed:
            return _crossed_in_gentler(model, trigger, course, step, crossing)
        into = crossing.minus(step.time)
        ends = sorted((step.profile.when(least) or 0.0, step.profile.when(most) or 0.0))
        rows = [Row(into, ends[0], ends[1], label, "s", trigger.origin)]
        if step.lasts is not None:
            rows = list(_crossed_anyhow(course, step, into, (least, most), label))
            if step.anyhow:
                speed = model.look(trigger.watch, crossing, label).speed
                rows.append(Row(speed, least, most, label, "m", trigger.origin))
        ways.append(tuple(rows))
        if trigger.setting.fixed:
            break
    model.choices.append(Choice(label, tuple(ways)))
    return model.look(trigger.watch, crossing, label).station


def _crossed_anyhow(
    course: Course, step: Step, into: Affine, speeds: tuple[float, float], label: str
) -> Iterator[Row]:
    """In a ramp of any shape: no sooner than the limits allow, and no later than leaves time for the rest."""
    ramp = course.mover.phases[step.index]
    if not isinstance(ramp, Ramp) or step.profile is None or step.lasts is None:
        raise AssertionError(label)
    first, last = speeds if step.profile.rising else speeds[::-1]
    before = least_ramp_time_s(step.profile.start_mps, first, ramp.table, math.inf)
    after = least_ramp_time_s(last, step.profile.end_mps, ramp.table, math.inf)
    yield at_least(into, before, label, "s", ramp.origin)
    yield at_least(step.lasts.minus(into), after, label, "s", ramp.origin)


def _crossed_in_gentler(
    model: Model, trigger: TriggerProblem, course: Course, step: Step, crossing: Affine
) -> Affine:
    """In a ramp that may be gentler than its limit: when and where a given speed is passed, by its duration."""
    ramp = course.mover.phases[step.index]
    if not isinstance(ramp, Ramp) or step.profile is None or step.lasts is None:
        raise AssertionError(trigger.name)
    full, speed = step.profile, trigger.setting.lo
    label = f"trigger {trigger.name}"
    into = crossing.minus(step.time)
    if math.isinf(ramp.jerk_mps3):
        # Every share of the limit has the same course over the share of its duration.
        when = step.lasts.times((full.when(speed) or 0.0) / full.duration_s)
    else:
        name = f"{label}: time"
        when = over_duration(
            model, ramp, full, step.lasts, name, lambda one: one.when(speed) or 0.0
        )
    model.rows.append(equal(into, when, label, "s", trigger.origin))
    return step.station.plus(_way_until(model, step, ramp, speed, f"{label}: way"))


def _way_until(model: Model, step: Step, ramp: Ramp, speed_mps: float, label: str) -> Affine:
    """The way in a ramp until a speed is passed; where the ramp may be gentler it depends on its duration."""
    if step.profile is None:
        raise AssertionError(label)

    def way_m(profile: Profile) -> float:
        return profile.at(profile.when(speed_mps) or 0.0)[0]

    full = step.profile
    if step.lasts is None:
        return given(way_m(full))
    if math.isinf(ramp.jerk_mps3) or speed_mps == full.start_mps:
        return step.lasts.times(way_m(full) / full.duration_s)
    return over_duration(model, ramp, full, step.lasts, label, way_m)


def add_setting(model: Model, trigger: TriggerProblem) -> None:
    """Add the row that holds a setting in its range; the encounters must be known. A speed is held by its crossing."""
    crossed = model.triggers[trigger.name]
    low, high = trigger.setting.lo, trigger.setting.hi
    unit: Unit = "m"
    match trigger.condition:
        case "speed":
            return
        case "time":
            value, unit = crossed.crossing, "s"
        case "station":
            value = crossed.station
        case "distance" | "time to collision":
            value = left_to(model, trigger).minus(crossed.station)
            if trigger.condition == "time to collision":
                speed = model.courses[trigger.watch].steps[trigger.during_phase or 0].speed_mps
                low, high = low * speed, high * speed
                _not_before(model, trigger, value, speed)
        case "gap":
            value = _gap(model, trigger, crossed)
            model.triggers[trigger.name] = replace(crossed, gap=value)
        case _:
            assert_never(trigger.condition)
    row = Row(value, low, high, f"trigger {trigger.name}", unit, trigger.origin)
    model.rows.append(row)


def slows_down_first(model: Model) -> bool:
    """Whether a time to collision could be met before, while the watched mover was faster."""
    return any(
        one.condition == "time to collision" and bool(one.during_phase)
        for one in model.problem.triggers
    )


def _not_before(model: Model, trigger: TriggerProblem, left: Affine, speed: float) -> None:
    """Whoever was faster before was nearer in time at the same distance: the setting must not be reached there.

    left: the way that is left when the trigger fires, m. In holds that time falls, in ramps it is looked at by steps.
    """
    course = model.courses[trigger.watch]
    meets, room_m = left_to(model, trigger), 0.0 if model.exact else EARLIER_M
    what = f"trigger {trigger.name} doesn't fire before {trigger.watch} has slowed down"
    for step in course.steps[: trigger.during_phase]:
        ramp = course.mover.phases[step.index]
        if step.profile is None or not isinstance(ramp, Ramp):
            continue
        bent = step.lasts is not None and math.isfinite(ramp.jerk_mps3)
        looks = BENT_LOOKS if bent else EARLIER_LOOKS
        if step.anyhow:
            looks = 1  # of a ramp of any shape only the beginning is known
        for index in range(looks):
            fast = step.profile.at(step.profile.duration_s * index / looks)[1]
            if fast > speed:
                label = f"{what}, {step.index} {index}"
                then = meets.minus(step.station).minus(_way_until(model, step, ramp, fast, label))
                later = left.plus(room_m).times(fast / speed)
                model.rows.append(at_least(then, later, what, "m", trigger.origin))


def _gap(model: Model, trigger: TriggerProblem, crossed: Crossed) -> Affine:
    """The gap between the watched mover's front and the other's facing end at the crossing."""
    if trigger.gap is None:
        raise AssertionError(trigger.name)
    label = f"trigger {trigger.name}, {trigger.gap.b}"
    if model.problem.mover(trigger.gap.b).launch_trigger == trigger.name:
        other = before_launch(model.courses[trigger.gap.b], crossed.crossing, label)
    else:
        last = _ended_by(model, trigger, trigger.gap.b)
        other = model.look(trigger.gap.b, crossed.crossing, label, last)
    return gap_of(model, trigger, crossed.station, other, trigger.name)


def _ended_by(model: Model, trigger: TriggerProblem, mover: str) -> int | None:
    """The first phase of a mover that a trigger ends: the trigger is crossed no later than in it."""
    phases = model.problem.mover(mover).phases
    ended = (index for index, phase in enumerate(phases) if waits_for(phase, trigger.name))
    return next(ended, None)


def gap_of(
    model: Model, trigger: TriggerProblem, station: Affine, other: Look, label: str
) -> Affine:
    """Give the gap in m from the watched mover at a station to where a look finds the other.

    label: of the curved relation between their lanes, one for each look.
    """
    gap = trigger.gap
    if gap is None:
        raise AssertionError(trigger.name)
    if gap.exact:
        facing = other.station.minus(gap.b0_m).times(gap.slope).plus(gap.facing0_m)
    else:
        mover = model.courses[gap.b].mover
        bounds = (mover.start.lo, mover.room.hi)
        facing, _ = model.along(trigger.name, trigger.watch, other, bounds, label)
    return facing.minus(gap.front_a_m).minus(station)


def left_to(model: Model, trigger: TriggerProblem) -> Affine:
    """Give the station at which the watched mover meets what the trigger counts to."""
    encounter = model.problem.encounter(trigger.to or "")
    met = model.met[encounter.name]
    first = encounter.first if isinstance(encounter, PassAt) else encounter.a
    return met.station_a if trigger.watch == first else met.station_b
