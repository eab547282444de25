"""A scenario with one part of it exchanged: how its neighbours are made from its records.

Values named in the text (`$name`) vary it the other way, before anything is read: making/values.py.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import assert_never

from choreo.scenario.records.scenario import (
    Encounter,
    Limits,
    Mover,
    PathSpec,
    Phase,
    Scenario,
    Span,
    Trigger,
)
from choreo.words.kinds import LimitName


def with_mover(scenario: Scenario, name: str, mover: Mover) -> Scenario:
    """Give the scenario with another mover under a name."""
    return replace(scenario, movers={**scenario.movers, name: mover})


def with_each_mover(scenario: Scenario, change: Callable[[str, Mover], Mover]) -> Scenario:
    """Give the scenario with every mover as `change` gives it from its name and itself."""
    movers = {name: change(name, mover) for name, mover in scenario.movers.items()}
    return replace(scenario, movers=movers)


def with_limits(scenario: Scenario, mover: str, limits: Limits) -> Scenario:
    """Give the scenario with other limits of a mover."""
    return with_mover(scenario, mover, replace(scenario.movers[mover], limits=limits))


def with_limit(scenario: Scenario, mover: str, limit: LimitName, value: float) -> Scenario:
    """Give the scenario with one limit of a mover set to a value in SI; an acceleration at every speed."""
    return with_limits(scenario, mover, _limited(scenario.movers[mover].limits, limit, value))


def _limited(limits: Limits, limit: LimitName, value: float) -> Limits:
    match limit:
        case "speed":
            return replace(limits, speed_mps=value)
        case "accelerate":
            return replace(limits, accelerate=((0.0, value),))
        case "brake":
            return replace(limits, brake_mps2=value)
        case "jerk":
            return replace(limits, jerk_mps3=value)
        case "lateral":
            return replace(limits, lateral_mps2=value)
        case "stroke":
            return replace(limits, stroke_m=value)
    assert_never(limit)


def with_phase(scenario: Scenario, mover: str, index: int, phase: Phase) -> Scenario:
    """Give the scenario with another phase at a place (from 0) of a mover's programme."""
    programme = scenario.movers[mover].programme
    changed = (*programme[:index], phase, *programme[index + 1 :])
    return with_mover(scenario, mover, replace(scenario.movers[mover], programme=changed))


def with_speed(scenario: Scenario, mover: str, index: int, speed_mps: float) -> Scenario:
    """Give the scenario in which a ramp goes to another speed, and with it whoever follows."""
    to = Span.at(speed_mps)
    source = (mover, scenario.movers[mover].programme[index].name)
    for name, one in scenario.movers.items():
        for number, phase in enumerate(one.programme):
            if (name, phase.name) == source or phase.follows == source:
                scenario = with_phase(scenario, name, number, replace(phase, to=to))
    return scenario


def with_path(scenario: Scenario, name: str, path: PathSpec) -> Scenario:
    """Give the scenario with another path under a name."""
    return replace(scenario, paths={**scenario.paths, name: path})


def with_each_path(scenario: Scenario, change: Callable[[PathSpec], PathSpec]) -> Scenario:
    """Give the scenario with every path as `change` gives it."""
    return replace(scenario, paths={name: change(path) for name, path in scenario.paths.items()})


def with_trigger(scenario: Scenario, name: str, trigger: Trigger) -> Scenario:
    """Give the scenario with another trigger under a name."""
    return replace(scenario, triggers={**scenario.triggers, name: trigger})


def with_each_trigger(scenario: Scenario, change: Callable[[str, Trigger], Trigger]) -> Scenario:
    """Give the scenario with every trigger as `change` gives it from its name and itself."""
    triggers = {name: change(name, trigger) for name, trigger in scenario.triggers.items()}
    return replace(scenario, triggers=triggers)


def with_encounter(scenario: Scenario, name: str, encounter: Encounter) -> Scenario:
    """Give the scenario with another encounter under a name."""
    return replace(scenario, encounters={**scenario.encounters, name: encounter})
