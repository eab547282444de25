"""Triggers as rows: when the watched mover crosses the setting, when the trigger acts, and that the setting fits."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import assert_never

import casadi as ca

from choreo.problem.records import Hold, TriggerProblem
from choreo.solve.events import Events, TriggerModel
from choreo.solve.formulation import Expression, Passing
from choreo.solve.models import PhaseModel

# First guess (s) of when a speed is reached, until it is found on the guessed motion; and the speed (m/s) that is
# looked for there while the setting is open: every run-up passes it.
SOME_CROSSING_S = 5
SOME_SPEED_MPS = 1.0


def add_trigger(events: Events, shape: TriggerProblem, trigger: TriggerProblem) -> None:
    """Add when and where a trigger is crossed, and when it acts.

    shape: with plain numbers, for structure; trigger: the same with symbols.
    """
    match shape.condition:
        case "time":
            crossing, station = _time_crossing(events, shape, trigger)
        case "speed":
            crossing, station = _speed_crossing(events, shape, trigger)
        case "station" | "distance" | "time to collision" | "gap":
            settled = shape.during_phase is not None and isinstance(
                events.problem.mover(shape.watch).phases[shape.during_phase], Hold
            )
            if settled:
                crossing, station = _settled_crossing(events, shape)
            else:
                crossing, station = _passing(events, shape, trigger)
        case _:
            assert_never(shape.condition)
    acts = crossing + trigger.expected_detection_s + trigger.latency_s
    events.triggers[trigger.name] = TriggerModel(crossing, station, crossing, acts)


def _time_crossing(
    events: Events, shape: TriggerProblem, trigger: TriggerProblem
) -> tuple[Expression, Expression]:
    # A trigger acts at go or later. Ends that are infinite are so in the structure: only finite ones are symbols.
    least = ca.fmax(trigger.setting.lo, 0) if math.isfinite(shape.setting.lo) else 0
    most = trigger.setting.hi
    guess = (least + most) / 2 if math.isfinite(shape.setting.hi) else least
    crossing = events.formulation.unknown(
        f"trigger {trigger.name}: time", least, most, guess, "time"
    )
    return crossing, events.movers[trigger.watch].at(crossing)[0]


def _speed_crossing(
    events: Events, shape: TriggerProblem, trigger: TriggerProblem
) -> tuple[Expression, Expression]:
    label = f"trigger {trigger.name}"
    speed_mps = trigger.setting.lo if shape.setting.fixed else SOME_SPEED_MPS
    crossing = events.formulation.unknown(
        f"{label}: time",
        0,
        math.inf,
        SOME_CROSSING_S,
        "time",
        passing=Passing(trigger.watch, "speed", speed_mps),
    )
    station, speed = events.movers[trigger.watch].at(crossing)
    events.formulation.in_range(
        f"{label}: speed", speed, 1, shape.setting, trigger.setting, "m/s", shape.origin
    )
    return crossing, station


def _passing(
    events: Events, shape: TriggerProblem, trigger: TriggerProblem
) -> tuple[Expression, Expression]:
    """A station or a gap is passed, in a ramp that is named or in whatever phase."""
    label = f"trigger {shape.name}"
    finite = [end for end in (shape.setting.lo, shape.setting.hi) if math.isfinite(end)]
    ends = [trigger.setting.lo if end == shape.setting.lo else trigger.setting.hi for end in finite]
    passing = None
    if ends and shape.gap is None:
        passing = Passing(trigger.watch, "station", sum(ends) / len(ends))
    crossing = events.formulation.unknown(
        f"{label}: time", 0, math.inf, SOME_CROSSING_S, "time", passing=passing
    )
    if shape.during_phase is not None:
        phase = events.movers[shape.watch].phases[shape.during_phase]
        for what, late, early in (
            ("after it begins", crossing, phase.start_s),
            ("before it ends", phase.end_s, crossing),
        ):
            events.formulation.at_least(f"{label}: {what}", late, early, "s", shape.origin)
    model = events.movers[shape.watch]
    if shape.gap is not None:
        return crossing, model.at(crossing)[0]
    return crossing, model.virtual_station(crossing)


def _settled_crossing(events: Events, shape: TriggerProblem) -> tuple[Expression, Expression]:
    """The setting is reached inside a hold, after its settle time."""
    label = f"trigger {shape.name}"
    phase = _watched_phase(events, shape)
    settle = events.problem.mover(shape.watch).hold(shape.during_phase or 0).settle_s
    crossing = events.formulation.unknown(
        f"{label}: time", 0, math.inf, (phase.start_s + phase.end_s) / 2, "time"
    )
    events.formulation.at_least(
        f"{label}: {shape.watch} is settled when it is reached",
        crossing,
        phase.start_s + settle,
        "s",
        shape.origin,
    )
    events.formulation.at_least(
        f"{label}: reached before {shape.watch} changes speed",
        phase.end_s,
        crossing,
        "s",
        shape.origin,
    )
    return crossing, phase.start_m + phase.start_mps * (crossing - phase.start_s)


def _watched_phase(events: Events, shape: TriggerProblem) -> PhaseModel:
    """The hold in which the setting is reached; a condition that must be settled has one."""
    if shape.during_phase is None:
        raise AssertionError(shape.name)
    return events.movers[shape.watch].phases[shape.during_phase]


def add_setting(events: Events, shape: TriggerProblem, trigger: TriggerProblem) -> None:
    """Add the rows that hold a trigger's setting in its range; the encounters must be known."""
    model = events.triggers[trigger.name]
    match shape.condition:
        case "time":
            setting = model.crossing_s  # in its range by the unknown's bounds
        case "speed":
            setting = events.movers[trigger.watch].at(model.crossing_s)[1]  # as when it was added
        case "station":
            setting = _ranged(events, shape, trigger, model.station_m, 1)
        case "distance":
            setting = _ranged(events, shape, trigger, _left_m(events, shape, model), 1)
        case "time to collision":
            rate = _watched_phase(events, shape).start_mps
            setting = _ranged(events, shape, trigger, _left_m(events, shape, model), rate)
        case "gap":
            setting = _ranged(events, shape, trigger, _gap_m(events, trigger, model), 1)
        case _:
            assert_never(shape.condition)
    events.triggers[trigger.name] = replace(model, setting=setting)


def _left_m(events: Events, shape: TriggerProblem, model: TriggerModel) -> Expression:
    """What the watched mover has left to its encounter when it crosses the setting."""
    moment = events.moments[shape.to or ""]
    first, _ = events.numeric.encounter(shape.to or "").pair
    return (moment.station_a_m if shape.watch == first else moment.station_b_m) - model.station_m


def _gap_m(events: Events, trigger: TriggerProblem, model: TriggerModel) -> Expression:
    """What is between the watched mover's front and the other's facing end when the setting is crossed."""
    gap = trigger.gap
    if gap is None:
        raise AssertionError(trigger.name)
    station_b_m = events.movers[gap.b].at(model.crossing_s)[0]
    return gap.line_at(station_b_m) - gap.front_a_m - model.station_m


def _ranged(
    events: Events,
    shape: TriggerProblem,
    trigger: TriggerProblem,
    value: Expression,
    rate: Expression,
) -> Expression:
    """Add that value / rate, the setting, is in its range; gives the setting."""
    name = f"trigger {shape.name}: {shape.condition}"
    events.formulation.in_range(
        name, value, rate, shape.setting, trigger.setting, "m", shape.origin
    )
    return value / rate
