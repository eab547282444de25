"""When each event of a problem happens, as expressions of the unknowns: what rows between movers are written with."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from choreo.problem.records import EventRef, GapAt, Problem
from choreo.solve.movers import MoverModel
from choreo.solve.unknowns import Expression, Programme


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


@dataclass
class Events:
    """Everything that is known of events while a programme is assembled.

    numeric: the problem with plain numbers, for structure; problem: the same with symbols. times: of encounters and
    instants; moments: of encounters; triggers: all by name, filled in as their rows are written.
    """

    programme: Programme
    numeric: Problem
    problem: Problem
    movers: dict[str, MoverModel]
    times: dict[str, Expression] = field(default_factory=dict)
    moments: dict[str, Moment] = field(default_factory=dict)
    triggers: dict[str, TriggerModel] = field(default_factory=dict)
    _marks: dict[tuple[str, str], Expression] = field(default_factory=dict)

    def time(self, ref: EventRef) -> Expression:
        """Give an event's time; the passing of a mark gets an unknown and a row when first asked for."""
        if ref.kind in ("encounter", "instant", "trigger"):
            return self._named(ref)
        mover = self.movers[ref.mover or ""]
        if ref.kind == "launch":
            return mover.launch_s
        if ref.kind in ("phase start", "phase end"):
            phase = mover.phases[self.numeric.mover(mover.name).phase_index(ref.name)]
            return phase.start_s if ref.kind == "phase start" else phase.end_s
        return self._mark(ref)

    def _named(self, ref: EventRef) -> Expression:
        name = ref.name or ""
        if ref.kind == "trigger":
            return self.triggers[name].acts_s
        if ref.kind == "instant" and name not in self.times:
            instant = self.problem.instant(name)
            self.times[name] = self.time(instant.before) - instant.by_s
        if ref.kind == "encounter" and name not in self.times:
            gap = self.numeric.encounter(name)
            if isinstance(gap, GapAt):
                self.times[name] = self.time(gap.at)
        return self.times[name]

    def _mark(self, ref: EventRef) -> Expression:
        key = (f"{ref.kind} {ref.name}", ref.mover or "")
        if key not in self._marks:
            station = self.mark_station(ref)
            label = f"{ref.mover}: time at {ref.kind} of {ref.name}"
            time = self.programme.unknown(
                label, -math.inf, math.inf, 0, (ref.mover or "", "station", station)
            )
            reached = self.movers[ref.mover or ""].at(time)[0]
            origin = self.numeric.mover(ref.mover or "").origin
            self.programme.equal(f"{label}: reached", reached, station, "m", origin)
            self._marks[key] = time
        return self._marks[key]

    def mark_station(self, ref: EventRef) -> Expression:
        """Give the station of a named path piece's start or end."""
        mover = self.problem.mover(ref.mover or "")
        mark = next(mark for mark in mover.marks if mark[0] == ref.name)
        return mark[1] if ref.kind == "mark start" else mark[2]

    def state(self, mover: str, time_s: Expression) -> tuple[Expression, Expression]:
        """Give station and speed of a mover at a time; exact phase ends are used where they coincide."""
        model = self.movers[mover]
        for phase in model.phases:
            if phase.end_s is time_s:
                return phase.end_m, phase.end_mps
            if phase.start_s is time_s:
                return phase.start_m, phase.start_mps
        return model.at(time_s)
