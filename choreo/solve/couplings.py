"""Couplings: all rows between movers (encounters, triggers, and waits and holds that last until something)."""

from __future__ import annotations

from typing import assert_never

from choreo.problem.records import Hold, Problem, Ramp, Wait
from choreo.solve.encounter_rows import add_encounter, add_order, name_encounter_times
from choreo.solve.events import Events
from choreo.solve.formulation import Formulation, twin
from choreo.solve.models import MoverModel
from choreo.solve.trigger_rows import add_setting, add_trigger


def add_couplings(
    formulation: Formulation, numeric: Problem, problem: Problem, movers: dict[str, MoverModel]
) -> Events:
    """Add the rows of encounters, triggers, waits and holds, in that order; gives the events that they name.

    numeric: plain numbers, for structure; problem: the same with symbols.
    """
    events = Events(formulation, numeric, problem, movers)
    ended = name_encounter_times(events)
    triggers = list(zip(numeric.triggers, problem.triggers, strict=True))
    for trigger_shape, trigger in triggers:
        add_trigger(events, trigger_shape, trigger)
    for encounter_shape, encounter in zip(numeric.encounters, problem.encounters, strict=True):
        add_encounter(events, encounter_shape, encounter)
    add_order(events)
    for trigger_shape, trigger in triggers:
        add_setting(events, trigger_shape, trigger)
    for mover_shape, mover in zip(numeric.movers, problem.movers, strict=True):
        for index, (shape, phase) in enumerate(zip(mover_shape.phases, mover.phases, strict=True)):
            match shape:
                case Wait():
                    _wait(events, mover.name, index, shape, twin(shape, phase))
                case Hold():
                    if (mover.name, index) not in ended:
                        _hold_end(events, mover.name, index, shape, twin(shape, phase))
                    _settle(events, mover.name, index, shape, twin(shape, phase))
                case Ramp():
                    _rest(events, mover.name, index, shape, twin(shape, phase))
                case _:
                    assert_never(shape)
    return events


def _wait(events: Events, mover: str, index: int, shape: Wait, wait: Wait) -> None:
    if shape.for_s is not None:
        return
    model = events.movers[mover]
    ends = model.launch_s if index == 0 else model.phases[index].end_s
    until = wait.until_s
    if shape.trigger is not None:
        until = events.triggers[shape.trigger].acts_s + wait.latency_s
    events.formulation.equal(f"{mover} {shape.name}: ends", ends, until, "s", shape.origin)


def _rest(events: Events, mover: str, index: int, shape: Ramp, ramp: Ramp) -> None:
    if shape.ends_at_m is not None:
        end_m = events.movers[mover].phases[index].end_m
        label = f"{mover} {shape.name}: at rest there"
        events.formulation.equal(label, end_m, ramp.ends_at_m, "m", shape.origin)


def _hold_end(events: Events, mover: str, index: int, shape: Hold, hold: Hold) -> None:
    until = shape.until
    phase = events.movers[mover].phases[index]
    if shape.ends_at_m is not None:
        label = f"{mover} {shape.name}: ends there"
        events.formulation.equal(label, phase.end_m, hold.ends_at_m, "m", shape.origin)
    if until is None:
        return
    label = f"{mover} {shape.name}: lasts until {until.name}"
    station = events.problem.mover(mover).mark_station(until)
    if station is not None:
        events.formulation.equal(label, phase.end_m, station, "m", shape.origin)
        return
    ends = events.time(until)
    if until.kind == "trigger":
        ends = ends + hold.latency_s
    events.formulation.equal(label, phase.end_s, ends, "s", shape.origin)


def _settle(events: Events, mover: str, index: int, shape: Hold, hold: Hold) -> None:
    """The hold is steady for its settle time before it ends, or before the event by which it must have settled."""
    if not shape.settles:
        return
    phase = events.movers[mover].phases[index]
    label = f"{mover} {shape.name}"
    steady = phase.end_s
    if shape.settled_by is not None:
        steady = events.time(shape.settled_by)
        lasts = f"{label}: lasts until {shape.settled_by.name}, by which it has settled"
        events.formulation.at_least(lasts, phase.end_s, steady, "s", shape.origin)
    settled = steady - phase.start_s
    events.formulation.at_least(f"{label}: settle", settled, hold.settle_s, "s", shape.origin)
