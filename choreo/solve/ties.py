"""What ties movers together: events, encounters, triggers, and holds that last until something."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import casadi as ca

from choreo.problem.records import (
    ContactPoint,
    ContactTrack,
    Encounter,
    EventRef,
    GapAt,
    Hold,
    PassAt,
    Problem,
    Wait,
)
from choreo.solve.movers import MoverModel
from choreo.solve.tolerances import (
    APART_AFTER_S,
    APART_LOOKS,
    IDLE_M,
    LANE_BEGINS_M,
    LEAST_RATE_MPS,
)
from choreo.solve.trigger_model import TriggerModel
from choreo.solve.trigger_ties import add_setting, add_trigger
from choreo.solve.unknowns import Expression, Programme
from choreo.words.origin import Origin


def one_lane(problem: Problem, contact: ContactTrack) -> bool:
    """Tell whether `b` is in the lane of `a` from its start on; if it joins later it may be beside or behind."""
    return contact.span_b.lo <= problem.mover(contact.b).start.lo + LANE_BEGINS_M


@dataclass(frozen=True, slots=True)
class Moment:
    """A time at which an encounter is judged and both stations then."""

    time_s: Expression
    station_a_m: Expression
    station_b_m: Expression


@dataclass
class Ties:
    """All moments by name while a programme is assembled."""

    programme: Programme
    numeric: Problem
    problem: Problem
    movers: dict[str, MoverModel]
    times: dict[str, Expression] = field(default_factory=dict)
    moments: dict[str, Moment] = field(default_factory=dict)
    triggers: dict[str, TriggerModel] = field(default_factory=dict)
    _marks: dict[tuple[str, str], Expression] = field(default_factory=dict)
    _ended: set[tuple[str, int]] = field(default_factory=set)

    def assemble(self) -> None:
        """Add every tie's rows, in the order encounters, triggers, waits and holds."""
        self._name_encounter_times()
        triggers = list(zip(self.numeric.triggers, self.problem.triggers, strict=True))
        for numeric, trigger in triggers:
            add_trigger(self, numeric, trigger)
        for shape, encounter in zip(self.numeric.encounters, self.problem.encounters, strict=True):
            self._encounter(shape, encounter)
        for numeric, trigger in triggers:
            add_setting(self, numeric, trigger)
        for shapes, mover in zip(self.numeric.movers, self.problem.movers, strict=True):
            for index, (part, phase) in enumerate(zip(shapes.phases, mover.phases, strict=True)):
                if isinstance(part, Wait) and isinstance(phase, Wait):
                    self._wait(mover.name, index, part, phase)
                elif isinstance(part, Hold) and isinstance(phase, Hold):
                    self._hold(mover.name, index, part, phase)

    def time(self, ref: EventRef) -> Expression:
        """Give an event's time."""
        if ref.kind in ("encounter", "instant", "trigger"):
            return self._named(ref)
        mover = self.movers[ref.mover or ""]
        if ref.kind == "launch":
            return mover.launch_s
        if ref.kind in ("phase start", "phase end"):
            phase = mover.phases[self._phase_index(ref)]
            return phase.start_s if ref.kind == "phase start" else phase.end_s
        return self._mark(ref)

    def _named(self, ref: EventRef) -> Expression:
        name = ref.name or ""
        if ref.kind == "trigger":
            return self.triggers[name].acts_s
        if ref.kind == "instant" and name not in self.times:
            instant = next(one for one in self.problem.instants if one.name == name)
            self.times[name] = self.time(instant.before) - instant.by_s
        if ref.kind == "encounter" and name not in self.times:
            gap = next(one for one in self.numeric.encounters if one.name == name)
            if isinstance(gap, GapAt):
                self.times[name] = self.time(gap.at)
        return self.times[name]

    def _phase_index(self, ref: EventRef) -> int:
        names = [phase.name for phase in self.numeric.mover(ref.mover or "").phases]
        return names.index(ref.name or "")

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

    def _name_encounter_times(self) -> None:
        """A contact happens where a hold that lasts until it ends; else its time is unknown."""
        for encounter in self.numeric.encounters:
            if isinstance(encounter, GapAt):
                continue
            ended = self._hold_until(encounter.name)
            if isinstance(encounter, PassAt):
                self.times[encounter.name] = self._passes(encounter)
            elif ended is not None:
                self._ended.add(ended)
                self.times[encounter.name] = self.movers[ended[0]].phases[ended[1]].end_s
            else:
                self.times[encounter.name] = self._unknown_contact_time(encounter)

    def _unknown_contact_time(self, encounter: Encounter) -> Expression:
        label = f"{encounter.name}: time"
        locate = None
        if isinstance(encounter, ContactPoint):
            mover, station = self._mover_that_moves(encounter)
            locate = (mover, "station", station)
        return self.programme.unknown(label, 0, math.inf, 10, locate)

    def _mover_that_moves(self, encounter: ContactPoint) -> tuple[str, Expression]:
        symbolic = next(one for one in self.problem.encounters if one.name == encounter.name)
        if not isinstance(symbolic, ContactPoint):
            raise AssertionError(encounter.name)
        if self.movers[encounter.a].pieces:
            return encounter.a, symbolic.station_a_m
        return encounter.b, symbolic.station_b_m

    def _hold_until(self, encounter: str) -> tuple[str, int] | None:
        for mover in self.numeric.movers:
            for index, phase in enumerate(mover.phases):
                until = phase.until if isinstance(phase, Hold) else None
                if until is not None and until.kind == "encounter" and until.name == encounter:
                    return mover.name, index
        return None

    def _passes(self, encounter: PassAt) -> Expression:
        symbolic = next(one for one in self.problem.encounters if one.name == encounter.name)
        if not isinstance(symbolic, PassAt):
            raise AssertionError(encounter.name)
        label = f"{encounter.name}: {encounter.first} leaves the zone"
        time = self.programme.unknown(
            label, 0, math.inf, 10, (encounter.first, "station", symbolic.exit_first_m)
        )
        reached = self.movers[encounter.first].at(time)[0]
        self.programme.equal(label, reached, symbolic.exit_first_m, "m", encounter.origin)
        return time

    def _encounter(self, shape: Encounter, encounter: Encounter) -> None:
        if isinstance(encounter, PassAt) and isinstance(shape, PassAt):
            self._pass(shape, encounter)
            return
        if isinstance(encounter, PassAt):
            raise AssertionError(encounter.name)
        time = self.time(EventRef("encounter", encounter.name))
        s_a, v_a = self.state(encounter.a, time)
        s_b, v_b = self.state(encounter.b, time)
        self.moments[encounter.name] = Moment(time, s_a, s_b)
        if isinstance(encounter, ContactPoint):
            for mover, station, wanted in (
                (encounter.a, s_a, encounter.station_a_m),
                (encounter.b, s_b, encounter.station_b_m),
            ):
                self.programme.equal(
                    f"{encounter.name}: {mover} is at the contact",
                    station,
                    wanted,
                    "m",
                    shape.origin,
                )
        elif isinstance(encounter, ContactTrack) and isinstance(shape, ContactTrack):
            on_track = encounter.a0_m + encounter.slope * (s_b - encounter.b0_m)
            self.programme.equal(
                f"{encounter.name}: {encounter.a} meets {encounter.b}",
                s_a,
                on_track,
                "m",
                shape.origin,
            )
            span = f"{encounter.name}: within the stretch where the overlap holds"
            self.programme.at_least(span, s_b, encounter.span_b.lo, "m", shape.origin)
            self.programme.at_least(span, encounter.span_b.hi, s_b, "m", shape.origin)
            closing = f"{encounter.name}: {encounter.a} closes on {encounter.b}"
            self.programme.at_least(closing, v_a, encounter.slope * v_b, "m/s", shape.origin)
            if self.programme.form.apart_m > 0:
                self._apart_before(shape, encounter, time)
        elif isinstance(shape, GapAt) and isinstance(encounter, GapAt):
            self._gap(shape, encounter, (s_a, v_a), (s_b, v_b))

    def _apart_before(self, shape: ContactTrack, contact: ContactTrack, time: Expression) -> None:
        """Movers in one lane all the way are apart until they meet."""
        if not one_lane(self.numeric, shape):
            return

        def room(when: Expression) -> Expression:
            s_a, s_b = self.movers[contact.a].at(when)[0], self.movers[contact.b].at(when)[0]
            return contact.a0_m + contact.slope * (s_b - contact.b0_m) - s_a

        self._apart(contact.name, (contact.a, contact.b), shape.origin, room, time)

    def _apart(
        self,
        name: str,
        pair: tuple[str, str],
        origin: Origin | None,
        room: Callable[[Expression], Expression],
        time: Expression,
    ) -> None:
        """Some room at every phase change before a time, and at even shares of the way there."""
        label = f"{name}: {pair[0]} and {pair[1]} are apart before it"
        moments = [phase.start_s for mover in pair for phase in self.movers[mover].phases]
        moments += [time * share / APART_LOOKS for share in range(APART_LOOKS)]
        for moment in moments:
            if moment is time:
                continue
            # After that time the clipped moment makes the row idle: at a contact its room is exactly zero.
            before = ca.fmin(ca.fmax((time - moment) / APART_AFTER_S, 0), 1)
            self.programme.at_least(
                label,
                room(ca.fmin(moment, time)) + IDLE_M,
                before * self.programme.form.apart_m,
                "m",
                origin,
            )

    def _gap(
        self,
        shape: GapAt,
        gap: GapAt,
        state_a: tuple[Expression, Expression],
        state_b: tuple[Expression, Expression],
    ) -> None:
        facing = gap.facing0_m + gap.slope * (state_b[0] - gap.b0_m)
        room = facing - gap.front_a_m - state_a[0]
        rate: Expression = 1
        if gap.measure == "time gap":
            rate = state_a[1]
        elif gap.measure == "time to collision":
            rate = state_a[1] - gap.slope * state_b[1]
        if gap.measure != "distance":
            # The measure divides by this speed; without the row a standstill would satisfy any value.
            moving = f"{gap.name}: {gap.a} moves on {gap.b}"
            self.programme.at_least(moving, rate, LEAST_RATE_MPS, "m/s", shape.origin)
        name = f"{gap.name}: {gap.measure}"
        self.in_range(name, room, rate, shape.wanted, gap.wanted, "m", shape.origin)
        if self.programme.form.apart_m > 0:
            self._apart_until_gap(shape, gap)

    def _apart_until_gap(self, shape: GapAt, gap: GapAt) -> None:
        def room(when: Expression) -> Expression:
            s_a, s_b = self.movers[gap.a].at(when)[0], self.movers[gap.b].at(when)[0]
            return gap.facing0_m + gap.slope * (s_b - gap.b0_m) - gap.front_a_m - s_a

        self._apart(gap.name, (gap.a, gap.b), shape.origin, room, self.times[gap.name])

    def _pass(self, shape: PassAt, encounter: PassAt) -> None:
        leaves = self.times[encounter.name]
        second = self.movers[encounter.second]
        self.moments[encounter.name] = Moment(
            leaves, self.movers[encounter.first].at(leaves)[0], second.at(leaves)[0]
        )
        name = f"{encounter.name}: {encounter.measure}"
        if encounter.measure == "distance":
            room = encounter.entry_second_m - second.at(leaves)[0]
            self.in_range(name, room, 1, shape.wanted, encounter.wanted, "m", shape.origin)
            return
        label = f"{encounter.name}: {encounter.second} enters the zone"
        enters = self.programme.unknown(
            label, 0, math.inf, 10, (encounter.second, "station", encounter.entry_second_m)
        )
        self.programme.equal(
            label, second.at(enters)[0], encounter.entry_second_m, "m", shape.origin
        )
        self.in_range(name, enters - leaves, 1, shape.wanted, encounter.wanted, "s", shape.origin)

    def in_range(self, name, value, rate, shape, wanted, unit, origin) -> None:  # type: ignore[no-untyped-def]
        """wanted.lo <= value / rate <= wanted.hi without dividing, so that a zero rate is harmless."""
        if shape.fixed:
            self.programme.equal(name, value, wanted.lo * rate, unit, origin)
            return
        if math.isfinite(shape.lo):
            self.programme.at_least(f"{name}, least", value, wanted.lo * rate, unit, origin)
        if math.isfinite(shape.hi):
            self.programme.at_least(f"{name}, most", wanted.hi * rate, value, unit, origin)

    def state(self, mover: str, time_s: Expression) -> tuple[Expression, Expression]:
        """Station and speed of a mover at a time; exact phase ends are used where they coincide."""
        model = self.movers[mover]
        for phase in model.phases:
            if phase.end_s is time_s:
                return phase.end_m, phase.end_mps
            if phase.start_s is time_s:
                return phase.start_m, phase.start_mps
        return model.at(time_s)

    def _wait(self, mover: str, index: int, shape: Wait, wait: Wait) -> None:
        model = self.movers[mover]
        ends = model.launch_s if index == 0 else model.phases[index].end_s
        name = f"{mover} {shape.name}: ends"
        if shape.trigger is not None:
            self.programme.equal(name, ends, self.triggers[shape.trigger].acts_s, "s", shape.origin)
        else:
            self.programme.equal(name, ends, wait.until_s, "s", shape.origin)

    def _hold(self, mover: str, index: int, shape: Hold, hold: Hold) -> None:
        phase = self.movers[mover].phases[index]
        label = f"{mover} {shape.name}"
        if shape.until is not None:
            self._hold_end(mover, index, shape)
        if shape.settle_s > 0:
            steady = phase.end_s
            if shape.settled_by is not None:
                steady = self.time(shape.settled_by)
                lasts = f"{label}: lasts until {shape.settled_by.name}, by which it has settled"
                self.programme.at_least(lasts, phase.end_s, steady, "s", shape.origin)
            self.programme.at_least(
                f"{label}: settle", steady - phase.start_s, hold.settle_s, "s", shape.origin
            )

    def _hold_end(self, mover: str, index: int, shape: Hold) -> None:
        until = shape.until
        if until is None or (mover, index) in self._ended:
            return
        phase = self.movers[mover].phases[index]
        label = f"{mover} {shape.name}: lasts until {until.name}"
        if until.kind.startswith("mark") and until.mover == mover:
            self.programme.equal(label, phase.end_m, self.mark_station(until), "m", shape.origin)
            return
        self.programme.equal(label, phase.end_s, self.time(until), "s", shape.origin)
