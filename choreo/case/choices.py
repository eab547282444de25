"""The quantities that a file leaves open, by name: between which values each may be chosen, and what a plan chose."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace

from choreo.case.quantities import quantities_of
from choreo.case.quantity import Keys, as_one, put_all
from choreo.plans.record import Plan
from choreo.scenario import Contact, Extreme, Mover, Scenario, Span
from choreo.scenario.records.edits import with_encounter, with_mover, with_speed, with_trigger
from choreo.words import ChoreoError, Finding
from choreo.words.display import quantity
from choreo.words.kinds import CONDITIONS, MEASURES, Unit
from choreo.words.nearest import suggestion
from choreo.words.quantities import quoted
from choreo.words.records import dataclass


@dataclass(frozen=True)
class Open:
    """An open quantity: from where to where (SI), how to give it a value, and which one a plan has chosen.

    keys: where it stands. parts: what a named value drives, of one that is told by that name.
    """

    name: str
    unit: Unit
    span: Span
    put: Callable[[Scenario, float], Scenario]
    chosen: Callable[[Plan], float]
    keys: Keys = ()
    parts: tuple[Open, ...] = ()

    def alike(self, plan: Plan, apart: float) -> bool:
        """Whether a plan chose one value (within apart, SI) in all places that a named value drives."""
        values = [one.chosen(plan) for one in self.parts]
        return not values or max(values) - min(values) <= apart


def check_preferred(scenario: Scenario) -> None:
    """Refuse a preferred quantity that isn't there or isn't open. Raises ChoreoError: as open_quantity."""
    if scenario.extreme is not None:
        open_quantity(scenario, scenario.extreme)


def open_quantity(scenario: Scenario, extreme: Extreme) -> Open:
    """Give the open quantity that `prefer` names.

    Raises ChoreoError: scenario.unknown-name, or scenario.bad-value for one that has one value.
    """
    every = tuple(open_quantities(scenario))
    found = {part.name: one for one in every for part in one.parts}
    found |= {one.name: one for one in every}
    if extreme.name in found:
        return found[extreme.name]
    place, name = scenario.origin("prefer"), quoted(extreme.name)
    for one in quantities_of(scenario):
        if one.name == extreme.name:
            values = {
                "where": "prefer",
                "what": f"{name} is {quantity(one.value, one.unit)}: there is nothing to choose",
                "instead": "Write a range for it, like `40..80 km/h`, or `free`.",
            }
            raise ChoreoError((Finding("scenario.bad-value", "error", place, values),))
    known = suggestion(extreme.name, found) if found else "Nothing in this file is a range or free."
    values = {"what": "quantity that is a range or free", "name": name, "suggestion": known}
    raise ChoreoError((Finding("scenario.unknown-name", "error", place, values),))


def open_quantities(scenario: Scenario) -> Iterator[Open]:
    """Give every quantity that is a range or free, in the author's order; of one named value in several places that."""
    return iter(as_one(scenario, list(_open_places(scenario)), _together))


def _together(name: str, driven: tuple[Open, ...]) -> Open:
    low, high = max(one.span.lo for one in driven), min(one.span.hi for one in driven)
    return replace(driven[0], name=name, span=Span(low, high), put=put_all(driven), parts=driven)


def _open_places(scenario: Scenario) -> Iterator[Open]:
    for name, mover in scenario.movers.items():
        if mover.programme:
            yield from _speeds(name, mover)
        if mover.stand is None and not mover.start.station.fixed:
            yield _start(name, mover.start.station)
    for name, trigger in scenario.triggers.items():
        if not trigger.setting.fixed:
            yield _setting(scenario, name, trigger.setting)
    for name, encounter in scenario.encounters.items():
        if not isinstance(encounter, Contact) and not encounter.wanted.fixed:
            yield _wanted(name, encounter.measure, MEASURES[encounter.measure], encounter.wanted)


def open_speeds(scenario: Scenario) -> Iterator[Open]:
    """Give the speed of every ramp that is a range or free, in the author's order."""
    for name, mover in scenario.movers.items():
        yield from _speeds(name, mover)


def _speeds(name: str, mover: Mover) -> Iterator[Open]:
    ramps = [i for i, p in enumerate(mover.programme) if p.kind == "ramp" and p.follows is None]
    for index in ramps:
        phase = mover.programme[index]
        if phase.to.fixed:
            continue

        def put(scenario: Scenario, value: float, index: int = index) -> Scenario:
            return with_speed(scenario, name, index, value)

        def chosen(plan: Plan, index: int = index) -> float:
            ends = [one for one in plan.movers[name].events if one.phase == index]
            return ends[0].speed_mps

        label = f"{name} speed" if len(ramps) == 1 else f"{name} speed of {phase.name}"
        span = Span(max(phase.to.lo, 0.0), min(phase.to.hi, mover.limits.speed_mps))
        yield Open(
            label, "m/s", span, put, chosen, ("movers", name, "programme", index, "ramp", "to")
        )


def _start(name: str, span: Span) -> Open:
    def put(scenario: Scenario, value: float) -> Scenario:
        old = scenario.movers[name]
        return with_mover(
            scenario, name, replace(old, start=replace(old.start, station=Span.at(value)))
        )

    return Open(
        f"{name} start",
        "m",
        _from_zero(span),
        put,
        lambda plan: plan.movers[name].start.station_m,
        ("movers", name, "start", "station"),
    )


def _setting(scenario: Scenario, name: str, span: Span) -> Open:
    condition = scenario.triggers[name].condition

    def put(scenario: Scenario, value: float) -> Scenario:
        old = scenario.triggers[name]
        return with_trigger(scenario, name, replace(old, setting=Span.at(value)))

    unit = CONDITIONS[condition].unit
    return Open(
        f"{name} {condition}",
        unit,
        _from_zero(span),
        put,
        lambda plan: plan.triggers[name].setting,
        ("triggers", name, "when", condition),
    )


def _wanted(name: str, measure: str, unit: Unit, span: Span) -> Open:
    def put(scenario: Scenario, value: float) -> Scenario:
        old = scenario.encounters[name]
        if isinstance(old, Contact):
            raise AssertionError(name)
        return with_encounter(scenario, name, replace(old, wanted=Span.at(value)))

    return Open(
        f"{name} {measure}",
        unit,
        span,
        put,
        lambda plan: plan.encounters[name].predicted,
        ("encounters", name, measure),
    )


def _from_zero(span: Span) -> Span:
    return Span(max(span.lo, 0.0), span.hi if math.isfinite(span.hi) else math.inf)
