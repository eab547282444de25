"""When each event of a problem happens, as expressions of the unknowns: what rows between movers are written with."""

from __future__ import annotations

import math
from dataclasses import field
from typing import assert_never

from choreo.problem.records import GapAt, Problem
from choreo.scenario import Event
from choreo.solve.formulation import Expression, Formulation, Owner, Passing
from choreo.solve.models import MoverModel
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Moment:
    """A time at which an encounter is judged and both stations then."""

    time_s: Expression
    station_a_m: Expression
    station_b_m: Expression


@dataclass(frozen=True, slots=True)
class TriggerModel:
    """When the watched mover crosses the setting, where, the setting, and when the trigger acts."""

    crossing_s: Expression
    station_m: Expression
    setting: Expression
    acts_s: Expression


@dataclass()
class Events:
    """Everything that is known of events while a formulation is assembled.

    numeric: the problem with plain numbers, for structure; problem: the same with symbols. times: of encounters and
    instants; moments: of encounters; triggers: all by name, filled in as their rows are written. drifts: of gaps that
    hold, in their measure.
    """

    formulation: Formulation
    numeric: Problem
    problem: Problem
    movers: dict[str, MoverModel]
    times: dict[str, Expression] = field(default_factory=dict)
    moments: dict[str, Moment] = field(default_factory=dict)
    triggers: dict[str, TriggerModel] = field(default_factory=dict)
    drifts: list[Expression] = field(default_factory=list)
    _marks: dict[Event, Expression] = field(default_factory=dict)

    def time(self, event: Event) -> Expression:
        """Give an event's time; the passing of a mark gets an unknown and a row when first asked for."""
        name = event.name or ""
        match event.kind:
            case "launch" | "phase start" | "phase end":
                return self._boundary_time(event)
            case "mark start" | "mark end":
                return self._mark_time(event)
            case "trigger":
                return self.triggers[name].acts_s
            case "encounter":
                return self._encounter_time(name)
            case "instant":
                return self._instant_time(name)
            case _:
                assert_never(event.kind)

    def _boundary_time(self, event: Event) -> Expression:
        mover = event.mover or ""
        boundary = self.numeric.mover(mover).boundary_of(event)
        if boundary is None:
            raise AssertionError(event)
        model = self.movers[mover]
        return model.phases[boundary - 1].end_s if boundary > 0 else model.launch_s

    def _encounter_time(self, name: str) -> Expression:
        if name not in self.times:
            gap = self.numeric.encounter(name)
            if isinstance(gap, GapAt):  # the others are named before anything asks for them
                self.times[name] = self.time(gap.at)
        return self.times[name]

    def _instant_time(self, name: str) -> Expression:
        if name not in self.times:
            instant = self.problem.instant(name)
            self.times[name] = self.time(instant.before) - instant.by_s
        return self.times[name]

    def _mark_time(self, event: Event) -> Expression:
        if event not in self._marks:
            mover = event.mover or ""
            station = self.problem.mover(mover).mark_station(event)
            label = f"{mover}: time at {event.kind} of {event.name}"
            passing = Passing(mover, "station", station)
            time = self.formulation.unknown(
                label, -math.inf, math.inf, 0, "time", Owner(mover), passing
            )
            reached = self.movers[mover].at(time)[0]
            origin = self.numeric.mover(mover).origin
            self.formulation.equal(f"{label}: reached", reached, station, "m", origin)
            self._marks[event] = time
        return self._marks[event]

    def state(self, mover: str, time_s: Expression) -> tuple[Expression, Expression]:
        """Give station and speed of a mover at a time; exact phase ends are used where they coincide."""
        model = self.movers[mover]
        for phase in model.phases:
            if phase.end_s is time_s:
                return phase.end_m, phase.end_mps
            if phase.start_s is time_s:
                return phase.start_m, phase.start_mps
        return model.at(time_s)
