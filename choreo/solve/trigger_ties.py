"""Triggers in the programme: when the watched mover crosses the setting, and when the trigger acts."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from choreo.problem.records import Hold, PassAt, TriggerProblem
from choreo.solve.movers import MoverModel
from choreo.solve.trigger_model import TriggerModel
from choreo.solve.unknowns import Expression

if TYPE_CHECKING:
    from choreo.solve.ties import Ties


def add_trigger(ties: Ties, shape: TriggerProblem, trigger: TriggerProblem) -> None:
    """Add when and where a trigger is crossed, and when it acts."""
    label = f"trigger {trigger.name}"
    watched = ties.movers[trigger.watch]
    if shape.condition == "time":
        lo, hi = max(shape.setting.lo, 0.0), trigger.setting.hi
        crossing = ties.programme.unknown(
            f"{label}: time",
            trigger.setting.lo if lo else 0,
            hi,
            max(0.0, shape.setting.middle),
        )
        station: Expression = watched.at(crossing)[0]
    elif shape.condition == "speed":
        crossing, station = _speed_crossing(ties, label, shape, trigger, watched)
    else:
        crossing, station = _settled_crossing(ties, label, shape, watched)
    acts = crossing + trigger.sampling_s / 2 + trigger.latency_s
    ties.triggers[trigger.name] = TriggerModel(crossing, station, crossing, acts)


def _speed_crossing(
    ties: Ties, label: str, shape: TriggerProblem, trigger: TriggerProblem, watched: MoverModel
) -> tuple[Expression, Expression]:
    crossing = ties.programme.unknown(
        f"{label}: time",
        0,
        math.inf,
        5,
        (trigger.watch, "speed", trigger.setting.lo if shape.setting.fixed else 1.0),
    )
    station, speed = watched.at(crossing)
    ties.in_range(f"{label}: speed", speed, 1, shape.setting, trigger.setting, "m/s", shape.origin)
    return crossing, station


def _settled_crossing(
    ties: Ties, label: str, shape: TriggerProblem, watched: MoverModel
) -> tuple[Expression, Expression]:
    """The setting is reached inside a hold, after its settle time."""
    index = shape.during_phase or 0
    hold = ties.problem.mover(shape.watch).phases[index]
    phase = watched.phases[index]
    settle = hold.settle_s if isinstance(hold, Hold) else 0.0
    crossing = ties.programme.unknown(
        f"{label}: time", 0, math.inf, (phase.start_s + phase.end_s) / 2
    )
    ties.programme.at_least(
        f"{label}: {shape.watch} is settled when it is reached",
        crossing,
        phase.start_s + settle,
        "s",
        shape.origin,
    )
    ties.programme.at_least(
        f"{label}: reached before {shape.watch} changes speed",
        phase.end_s,
        crossing,
        "s",
        shape.origin,
    )
    return crossing, phase.start_m + phase.start_mps * (crossing - phase.start_s)


def add_setting(ties: Ties, shape: TriggerProblem, trigger: TriggerProblem) -> None:
    """Add the rows that hold a trigger's setting in its range; the encounters must be known."""
    model = ties.triggers[trigger.name]
    setting: Expression = model.crossing_s
    name = f"trigger {trigger.name}: {trigger.condition}"
    if shape.condition == "speed":
        setting = ties.movers[trigger.watch].at(model.crossing_s)[1]
    elif shape.condition == "station":
        setting = model.station_m
        ties.in_range(name, setting, 1, shape.setting, trigger.setting, "m", shape.origin)
    elif shape.condition in ("distance", "time to collision"):
        moment = ties.moments[trigger.to or ""]
        encounter = next(e for e in ties.numeric.encounters if e.name == trigger.to)
        is_a = trigger.watch == (encounter.first if isinstance(encounter, PassAt) else encounter.a)
        left = (moment.station_a_m if is_a else moment.station_b_m) - model.station_m
        phase = ties.movers[trigger.watch].phases[shape.during_phase or 0]
        rate = phase.start_mps if shape.condition == "time to collision" else 1
        setting = left / rate
        ties.in_range(name, left, rate, shape.setting, trigger.setting, "m", shape.origin)
    ties.triggers[trigger.name] = TriggerModel(
        model.crossing_s, model.station_m, setting, model.acts_s
    )
