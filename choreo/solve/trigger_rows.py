"""Triggers as rows: when the watched mover crosses the setting, when the trigger acts, and that the setting fits."""

from __future__ import annotations

import math

from choreo.problem.records import Hold, PassAt, TriggerProblem
from choreo.solve.events import Events, TriggerModel
from choreo.solve.movers import MoverModel
from choreo.solve.unknowns import Expression


def add_trigger(events: Events, shape: TriggerProblem, trigger: TriggerProblem) -> None:
    """Add when and where a trigger is crossed, and when it acts.

    shape: with plain numbers, for structure; trigger: the same with symbols.
    """
    label = f"trigger {trigger.name}"
    watched = events.movers[trigger.watch]
    if shape.condition == "time":
        lo, hi = max(shape.setting.lo, 0.0), trigger.setting.hi
        crossing = events.programme.unknown(
            f"{label}: time",
            trigger.setting.lo if lo else 0,
            hi,
            max(0.0, shape.setting.middle),
        )
        station: Expression = watched.at(crossing)[0]
    elif shape.condition == "speed":
        crossing, station = _speed_crossing(events, label, shape, trigger, watched)
    else:
        crossing, station = _settled_crossing(events, label, shape, watched)
    acts = crossing + trigger.expected_detection_s + trigger.latency_s
    events.triggers[trigger.name] = TriggerModel(crossing, station, crossing, acts)


def _speed_crossing(
    events: Events, label: str, shape: TriggerProblem, trigger: TriggerProblem, watched: MoverModel
) -> tuple[Expression, Expression]:
    crossing = events.programme.unknown(
        f"{label}: time",
        0,
        math.inf,
        5,
        (trigger.watch, "speed", trigger.setting.lo if shape.setting.fixed else 1.0),
    )
    station, speed = watched.at(crossing)
    events.programme.in_range(
        f"{label}: speed", speed, 1, shape.setting, trigger.setting, "m/s", shape.origin
    )
    return crossing, station


def _settled_crossing(
    events: Events, label: str, shape: TriggerProblem, watched: MoverModel
) -> tuple[Expression, Expression]:
    """The setting is reached inside a hold, after its settle time."""
    index = shape.during_phase or 0
    hold = events.problem.mover(shape.watch).phases[index]
    phase = watched.phases[index]
    settle = hold.settle_s if isinstance(hold, Hold) else 0.0
    crossing = events.programme.unknown(
        f"{label}: time", 0, math.inf, (phase.start_s + phase.end_s) / 2
    )
    events.programme.at_least(
        f"{label}: {shape.watch} is settled when it is reached",
        crossing,
        phase.start_s + settle,
        "s",
        shape.origin,
    )
    events.programme.at_least(
        f"{label}: reached before {shape.watch} changes speed",
        phase.end_s,
        crossing,
        "s",
        shape.origin,
    )
    return crossing, phase.start_m + phase.start_mps * (crossing - phase.start_s)


def add_setting(events: Events, shape: TriggerProblem, trigger: TriggerProblem) -> None:
    """Add the rows that hold a trigger's setting in its range; the encounters must be known."""
    model = events.triggers[trigger.name]
    setting: Expression = model.crossing_s
    name = f"trigger {trigger.name}: {trigger.condition}"
    rows, origin = events.programme, shape.origin
    if shape.condition == "speed":
        setting = events.movers[trigger.watch].at(model.crossing_s)[1]
    elif shape.condition == "station":
        setting = model.station_m
        rows.in_range(name, setting, 1, shape.setting, trigger.setting, "m", origin)
    elif shape.condition in ("distance", "time to collision"):
        moment = events.moments[trigger.to or ""]
        encounter = events.numeric.encounter(trigger.to or "")
        is_a = trigger.watch == (encounter.first if isinstance(encounter, PassAt) else encounter.a)
        left = (moment.station_a_m if is_a else moment.station_b_m) - model.station_m
        phase = events.movers[trigger.watch].phases[shape.during_phase or 0]
        rate = phase.start_mps if shape.condition == "time to collision" else 1
        setting = left / rate
        rows.in_range(name, left, rate, shape.setting, trigger.setting, "m", origin)
    events.triggers[trigger.name] = TriggerModel(
        model.crossing_s, model.station_m, setting, model.acts_s
    )
