"""A linear relaxation over event times and stations that contains every possible plan.

If it has no solution, no plan exists. Each row is a bound that holds for whatever shape the ramps take; where a
value is open (a free speed, an event inside a phase, a curved relation) the row is left out or widened. It proves
impossibility, never possibility. Source of the ramp bounds: motion/bounds.py.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from choreo.motion import least_lost_m, least_ramp_distance_m, rated_ramp
from choreo.problem.records import (
    ContactPoint,
    ContactTrack,
    EventRef,
    GapAt,
    Hold,
    MoverProblem,
    Problem,
    Ramp,
    Range,
    TriggerProblem,
    Wait,
)
from choreo.proof.budgets import ramp_distance_m, ramp_time_s, ramp_words
from choreo.proof.relaxed_gaps import gap_rows
from choreo.proof.speeds import speed_before
from choreo.words.origin import Origin

Terms = dict[str, float]


# Two numbers that differ by less than this share are the same: no proof rests on it.
SAME = 1e-9


@dataclass(frozen=True, slots=True)
class RelaxedRow:
    """lo <= sum of coefficient * variable <= hi; what is empty for a mere definition."""

    terms: Terms
    lo: float
    hi: float
    what: str
    unit: str
    place: str | None


@dataclass
class Relaxation:
    """The rows of one problem's relaxation. Times are seconds, stations metres."""

    problem: Problem
    rows: list[RelaxedRow] = field(default_factory=list)

    def build(self) -> list[RelaxedRow]:
        """Write all rows."""
        for mover in self.problem.movers:
            self._mover(mover)
        for trigger in self.problem.triggers:
            self._trigger(trigger)
        for mover in self.problem.movers:
            for index, phase in enumerate(mover.phases):
                if isinstance(phase, Wait):
                    self._wait(mover, index, phase)
                elif isinstance(phase, Hold):
                    self._hold_ends(mover, index, phase)
        for encounter in self.problem.encounters:
            if isinstance(encounter, ContactTrack):
                self._on_track(encounter)
            elif isinstance(encounter, GapAt):
                for row in gap_rows(self.problem, encounter):
                    self._add(*row)
        return self.rows

    def _add(
        self, terms: Terms, lo: float, hi: float, what: str, unit: str, origin: Origin | None
    ) -> None:
        if math.isinf(lo) and math.isinf(hi):
            return
        place = None if origin is None else str(origin)
        kept = {name: value for name, value in terms.items() if value != 0}
        self.rows.append(RelaxedRow(kept, lo, hi, what, unit, place))

    def _mover(self, mover: MoverProblem) -> None:
        name = mover.name
        self._add(
            {_s(name, 0): 1.0},
            mover.start.lo,
            mover.start.hi,
            f"start of {name}",
            "m",
            mover.start_origin,
        )
        if not mover.phases:
            return
        self._add({_t(name, 0): 1.0}, 0.0, math.inf, f"launch of {name}, at go or later", "s", None)
        speed = Range(mover.start_speed_mps, mover.start_speed_mps)
        for index, phase in enumerate(mover.phases):
            if isinstance(phase, Ramp):
                self._ramp(name, index, speed, phase)
                speed = phase.to
            elif isinstance(phase, Hold):
                self._hold(name, index, speed, phase)
            else:
                self._standing(name, index)
        last = len(mover.phases)
        self._add(
            {_s(name, last): 1.0},
            -math.inf,
            mover.room.hi,
            f"end of the path of {name}",
            "m",
            mover.room_origin,
        )
        self._add(
            {_s(name, last): 1.0, _s(name, 0): -1.0},
            -math.inf,
            mover.stroke_m,
            f"stroke of {name}",
            "m",
            mover.stroke_origin,
        )

    def _standing(self, name: str, index: int) -> None:
        self._add(_ds(name, index), 0.0, 0.0, "", "m", None)
        if index == 0:
            self._add(_dt(name, index), 0.0, 0.0, "", "s", None)
        else:
            self._add(_dt(name, index), 0.0, math.inf, "", "s", None)

    def _between(self, name: str, index: int, low: float, high: float) -> None:
        """low * time <= distance <= high * time."""
        way, time = _ds(name, index), _dt(name, index)
        if low == high:
            self._add(_sum(way, time, -low), 0.0, 0.0, "", "m", None)
            return
        self._add(_sum(way, time, -low), 0.0, math.inf, "", "m", None)
        if math.isfinite(high):
            self._add(_sum(way, time, -high), -math.inf, 0.0, "", "m", None)

    def _hold(self, name: str, index: int, speed: Range, hold: Hold) -> None:
        self._between(name, index, speed.lo, speed.hi)
        self._add(_dt(name, index), 0.0, math.inf, "", "s", None)
        label = f"{name} {hold.name}"
        if hold.for_s is not None:
            self._add(
                _dt(name, index), hold.for_s, hold.for_s, f"{label} for a time", "s", hold.origin
            )
        if hold.for_m is not None:
            self._add(
                _ds(name, index), hold.for_m, hold.for_m, f"{label} for a way", "m", hold.origin
            )
        if hold.settle_s > 0 and hold.settled_by is None:
            self._add(
                _dt(name, index), hold.settle_s, math.inf, f"{name} settles", "s", hold.origin
            )

    def _ramp(self, name: str, index: int, speed: Range, ramp: Ramp) -> None:
        slow, fast = min(speed.lo, ramp.to.lo), max(speed.hi, ramp.to.hi)
        self._between(name, index, slow, fast)
        self._add(_dt(name, index), 0.0, math.inf, "", "s", None)
        way, time = _ds(name, index), _dt(name, index)
        label = f"{name} {ramp_words(speed, ramp)}"
        least_m, least_s = ramp_distance_m(speed, ramp), ramp_time_s(speed, ramp)
        exact = ramp.rated and speed.fixed and ramp.to.fixed
        self._add(way, least_m, least_m if exact else math.inf, label, "m", ramp.origin)
        self._add(time, least_s, least_s if exact else math.inf, label, "s", ramp.origin)
        if ramp.within_m is not None:
            self._add(way, -math.inf, ramp.within_m, f"{label}: within", "m", ramp.origin)
        if ramp.over_m is not None:
            self._add(way, ramp.over_m, ramp.over_m, f"{label}: over", "m", ramp.origin)
        if ramp.lasting_s is not None:
            self._add(time, ramp.lasting_s, ramp.lasting_s, f"{label}: lasting", "s", ramp.origin)
        if speed.fixed and ramp.to.fixed and not exact:
            lost, gained = least_lost_m(speed.lo, ramp.to.lo, ramp.table, ramp.jerk_mps3)
            behind = f"{label}: way lost against the higher speed"
            self._add(_sum(way, time, -fast), -math.inf, -lost, behind, "m", ramp.origin)
            if slow > 0:  # from rest that is the ramp's least way, which stands above
                ahead = f"{label}: way gained on the lower speed"
                self._add(_sum(way, time, -slow), gained, math.inf, ahead, "m", ramp.origin)

    def _trigger(self, trigger: TriggerProblem) -> None:
        crossing, acts = f"{trigger.name} crossing", f"{trigger.name} acts"
        delay = trigger.expected_detection_s + trigger.latency_s
        self._add(
            {acts: 1.0, crossing: -1.0},
            delay,
            delay,
            f"detection and latency of {trigger.name}",
            "s",
            trigger.origin,
        )
        self._add({crossing: 1.0}, 0.0, math.inf, "", "s", None)
        if trigger.condition == "time":
            self._add(
                {crossing: 1.0},
                trigger.setting.lo,
                trigger.setting.hi,
                f"trigger {trigger.name}",
                "s",
                trigger.origin,
            )
        if trigger.during_phase is None:
            return
        watched = self.problem.mover(trigger.watch)
        index, name = trigger.during_phase, trigger.watch
        hold = watched.phases[index]
        settle = hold.settle_s if isinstance(hold, Hold) else 0.0
        self._add(
            {crossing: 1.0, _t(name, index): -1.0},
            settle,
            math.inf,
            f"{name} settled when {trigger.name} fires",
            "s",
            hold.origin,
        )
        self._add({_t(name, index + 1): 1.0, crossing: -1.0}, 0.0, math.inf, "", "s", None)
        speed = speed_before(watched, index)
        if speed.fixed and speed.lo > 0:
            self._setting(trigger, name, index, speed.lo, crossing)

    def _setting(
        self, trigger: TriggerProblem, name: str, index: int, speed: float, crossing: str
    ) -> None:
        """Station at the crossing = station at the hold's start + speed * time into it."""
        here = {_s(name, index): 1.0, crossing: speed, _t(name, index): -speed}
        what, unit = f"trigger {trigger.name}", "m"
        low, high = trigger.setting.lo, trigger.setting.hi
        if trigger.condition == "station":
            self._add(here, low, high, what, unit, trigger.origin)
            return
        meets = self._station_at(name, trigger.to)
        if meets is None:
            return
        factor = speed if trigger.condition == "time to collision" else 1.0
        left = _sum(meets, here, -1.0)
        self._add(left, low * factor, high * factor, what, unit, trigger.origin)

    def _station_at(self, name: str, encounter: str | None) -> Terms | None:
        mover = self.problem.mover(name)
        hold = None if encounter is None else mover.hold_until(encounter)
        if hold is not None:
            return {_s(name, hold + 1): 1.0}
        return {_s(name, 0): 1.0} if not mover.phases else None

    def _time_of(self, ref: EventRef) -> tuple[Terms, float] | None:
        """An event's time as terms and a constant; None where it is not an event of the relaxation."""
        if ref.kind == "trigger":
            return {f"{ref.name} acts": 1.0}, 0.0
        if ref.kind == "encounter":
            return {f"{ref.name} time": 1.0}, 0.0
        if ref.kind == "instant":
            instant = self.problem.instant(ref.name or "")
            before = self._time_of(instant.before)
            return None if before is None else (before[0], before[1] - instant.by_s)
        if ref.kind == "launch":
            return {_t(ref.mover or "", 0): 1.0}, 0.0
        if ref.kind.startswith("phase"):
            phase = self.problem.mover(ref.mover or "").phase_index(ref.name)
            index = phase + (1 if ref.kind.endswith("end") else 0)
            return {_t(ref.mover or "", index): 1.0}, 0.0
        return None

    def _wait(self, mover: MoverProblem, index: int, wait: Wait) -> None:
        ends = {_t(mover.name, 0 if index == 0 else index + 1): 1.0}
        if wait.trigger is not None:
            self._add(_sum(ends, {f"{wait.trigger} acts": 1.0}, -1.0), 0.0, 0.0, "", "s", None)
        elif wait.until_s is not None:
            what = f"{mover.name} waits"
            self._add(ends, wait.until_s, wait.until_s, what, "s", wait.origin)

    def _hold_ends(self, mover: MoverProblem, index: int, hold: Hold) -> None:
        name = mover.name
        if hold.settled_by is not None and hold.settle_s > 0:
            steady = self._time_of(hold.settled_by)
            if steady is not None:
                ends = _sum({_t(name, index + 1): 1.0}, steady[0], -1.0)
                self._add(ends, steady[1], math.inf, "", "s", None)
                self._add(
                    _sum(steady[0], {_t(name, index): 1.0}, -1.0),
                    hold.settle_s - steady[1],
                    math.inf,
                    f"{name} settled by {hold.settled_by.name}",
                    "s",
                    hold.origin,
                )
        until = hold.until
        if until is None:
            return
        if until.kind.startswith("mark") and until.mover == name:
            mark = next(mark for mark in mover.marks if mark[0] == until.name)
            station = mark[1] if until.kind.endswith("start") else mark[2]
            what = f"{name} at {until.name}"
            self._add({_s(name, index + 1): 1.0}, station, station, what, "m", hold.origin)
            self._curve(mover, index, speed_before(mover, index), station)
            return
        event = self._time_of(until)
        if event is not None:
            terms = _sum({_t(name, index + 1): 1.0}, event[0], -1.0)
            what = f"{until.name}" if event[1] else ""
            self._add(terms, event[1], event[1], what, "s", hold.origin)
        for encounter in self.problem.encounters:
            if isinstance(encounter, ContactPoint) and hold.lasts_until(encounter.name):
                station = encounter.station_a_m if name == encounter.a else encounter.station_b_m
                what = f"{name} at {encounter.name}"
                self._add({_s(name, index + 1): 1.0}, station, station, what, "m", encounter.origin)
                self._curve(mover, index, speed_before(mover, index), station)

    def _on_track(self, contact: ContactTrack) -> None:
        """Both stations of a straight lane's contact, where both are ends of holds (or stand)."""
        if not contact.exact:
            return  # a curved relation is only a tangent here: no proof
        self._in_order(contact)
        ends_a = self._station_at(contact.a, contact.name)
        ends_b = self._station_at(contact.b, contact.name)
        if ends_a is None or ends_b is None:
            return
        room = contact.a0_m - contact.slope * contact.b0_m
        what = f"{contact.a} meets {contact.b} at {contact.name}"
        self._add(_sum(ends_a, ends_b, -contact.slope), room, room, what, "m", contact.origin)

    def _in_order(self, contact: ContactTrack) -> None:
        """In one lane from the start on, who is to be touched later isn't passed or overlapped at first."""
        start = self.problem.mover(contact.b).start
        if start.lo < contact.lane_b.lo or start.hi > contact.lane_b.hi:
            return  # `b` may begin where the line does not hold
        room = contact.a0_m - contact.slope * contact.b0_m
        terms = {_s(contact.a, 0): 1.0, _s(contact.b, 0): -contact.slope}
        what = f"{contact.a} starts before it reaches {contact.b}"
        self._add(terms, -math.inf, room, what, "m", contact.origin)

    def _curve(self, mover: MoverProblem, index: int, speed: Range, end_m: float) -> None:
        """A hold up to a known station begins after the last place too tight for its speed, and after the way that it
        takes to gain the rest of the speed from there.
        """
        begins = [
            (point.station_m + self._way_from(mover, index, point.curvature_per_m, speed.lo))
            for point in mover.curve
            if point.stretch >= 0
            and point.station_m < end_m
            and speed.lo**2 * point.curvature_per_m > mover.lateral_mps2 * (1 + SAME)
        ]
        if begins:
            what = f"{mover.name} past the curve that is too tight for its speed, and at speed"
            self._add(
                {_s(mover.name, index): 1.0}, max(begins), math.inf, what, "m", mover.lateral_origin
            )

    def _way_from(
        self, mover: MoverProblem, index: int, curvature_per_m: float, speed_mps: float
    ) -> float:
        """Least way from the speed that a curvature allows up to another; acceleration may stand at once."""
        rises = [
            phase
            for phase in mover.phases[:index]
            if isinstance(phase, Ramp) and phase.direction > 0
        ]
        if not rises or any(rise.table != rises[0].table for rise in rises):
            return 0.0
        allowed = math.sqrt(mover.lateral_mps2 / curvature_per_m) * (1 + SAME)
        if allowed >= speed_mps:
            return 0.0
        way = least_ramp_distance_m(allowed, speed_mps, rises[0].table, math.inf)
        if len(rises[0].table) == 1:
            rate, release = rises[0].table[0][1], rises[0].jerk_mps3
            ramp = rated_ramp(allowed, speed_mps, rate, release_jerk_mps3=release)
            way = max(way, ramp.distance_m)
        return way


def relaxed_rows(problem: Problem) -> list[RelaxedRow]:
    """Give the rows of the linear relaxation of a problem."""
    return Relaxation(problem).build()


def _s(mover: str, index: int) -> str:
    return f"{mover} station {index}"


def _t(mover: str, index: int) -> str:
    return f"{mover} time {index}"


def _ds(mover: str, index: int) -> Terms:
    return {_s(mover, index + 1): 1.0, _s(mover, index): -1.0}


def _dt(mover: str, index: int) -> Terms:
    return {_t(mover, index + 1): 1.0, _t(mover, index): -1.0}


def _sum(left: Terms, right: Terms, factor: float) -> Terms:
    """left + factor * right."""
    total = dict(left)
    for name, value in right.items():
        total[name] = total.get(name, 0.0) + factor * value
    return total
