"""Triggers as rows: when the watched mover crosses the setting, and what the setting is then."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import assert_never

from choreo.linear.affine import Affine, unknown
from choreo.linear.model import Model
from choreo.linear.records import Choice, Course, Crossed
from choreo.linear.rows import Row, at_least
from choreo.problem.records import Hold, PassAt, TriggerProblem
from choreo.words.kinds import Unit


def add_crossing(model: Model, trigger: TriggerProblem) -> None:
    """Add when a trigger is crossed, and when it acts."""
    crossing = unknown(f"trigger {trigger.name}: crossing")
    model.rows.append(at_least(crossing, 0.0, "", "s"))
    delay = trigger.expected_detection_s + trigger.latency_s
    course = model.courses[trigger.watch]
    station: Affine
    if trigger.during_phase is not None:
        step = course.steps[trigger.during_phase]
        hold = course.mover.phases[trigger.during_phase]
        settle = hold.settle_s if isinstance(hold, Hold) else 0.0
        what = f"{trigger.watch} settled when {trigger.name} fires"
        model.rows.append(at_least(crossing, step.time.plus(settle), what, "s", hold.origin))
        leaves = f"{trigger.name} fires before {trigger.watch} changes speed"
        model.rows.append(
            at_least(course.time(trigger.during_phase + 1), crossing, leaves, "s", trigger.origin)
        )
        station = step.station.plus(crossing.minus(step.time).times(step.speed_mps))
    elif trigger.condition == "speed":
        _speed_crossing(model, trigger, course, crossing)
        station = model.look(trigger.watch, crossing, f"trigger {trigger.name}").station
    else:
        station = model.look(trigger.watch, crossing, f"trigger {trigger.name}").station
    model.triggers[trigger.name] = Crossed(crossing, station, crossing.plus(delay))


def _speed_crossing(
    model: Model, trigger: TriggerProblem, course: Course, crossing: Affine
) -> None:
    """The first ramp that passes the setting; a setting in a range is any speed of any ramp that it holds."""
    ways = []
    for step in course.steps:
        if step.profile is None:
            continue
        low, high = sorted((step.profile.start_mps, step.profile.end_mps))
        least, most = max(low, trigger.setting.lo), min(high, trigger.setting.hi)
        if least > most:
            continue
        ends = sorted((step.profile.when(least) or 0.0, step.profile.when(most) or 0.0))
        into = crossing.minus(step.time)
        if step.lasts is not None:
            ends = [0.0, math.inf]
        ways.append((Row(into, ends[0], ends[1], f"trigger {trigger.name}", "s", trigger.origin),))
        if trigger.setting.fixed:
            break
    model.choices.append(Choice(f"trigger {trigger.name}", tuple(ways)))


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
        case "gap":
            value = _gap(model, trigger, crossed)
            model.triggers[trigger.name] = replace(crossed, gap=value)
        case _:
            assert_never(trigger.condition)
    row = Row(value, low, high, f"trigger {trigger.name}", unit, trigger.origin)
    model.rows.append(row)


def _gap(model: Model, trigger: TriggerProblem, crossed: Crossed) -> Affine:
    """The gap between the watched mover's front and the other's facing end at the crossing."""
    gap = trigger.gap
    if gap is None:
        raise AssertionError(trigger.name)
    other = model.look(gap.b, crossed.crossing, f"trigger {trigger.name}, {gap.b}")
    if gap.exact:
        facing = other.station.minus(gap.b0_m).times(gap.slope).plus(gap.facing0_m)
    else:
        mover = model.courses[gap.b].mover
        bounds = (mover.start.lo, mover.room.hi)
        facing, _ = model.along(trigger.name, trigger.watch, other, bounds)
    return facing.minus(gap.front_a_m).minus(crossed.station)


def left_to(model: Model, trigger: TriggerProblem) -> Affine:
    """Give the station at which the watched mover meets what the trigger counts to."""
    encounter = model.problem.encounter(trigger.to or "")
    met = model.met[encounter.name]
    first = encounter.first if isinstance(encounter, PassAt) else encounter.a
    return met.station_a if trigger.watch == first else met.station_b
