"""Triggers that fire when their setting is first met: what a found plan meets earlier is asked to stay beyond.

Until a gap is first at its setting it is either more all the time or less all the time. Rows at any
time before are rows that every plan must meet, one way or the other: a search with them still proves what it cuts off.
A mover that stands at the station that is looked for is there from the beginning of its standstill on.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial

from choreo.linear.affine import Affine, given
from choreo.linear.looking import least_of, looks_at, since_phase
from choreo.linear.model import Model, Since
from choreo.linear.records import Choice, Course, before_launch
from choreo.linear.rows import at_least
from choreo.linear.spots import Values
from choreo.linear.triggers import gap_of
from choreo.problem.records import TriggerProblem
from choreo.solve.reading import MoverReading
from choreo.words.records import dataclass

# A gap that is beyond its setting by less than this (m) before it fires is at it. What is planned keeps APART_M, which
# survives that marks are written to the millimetre.
AT_M, APART_M = 2e-5, 2e-3
# On which side of its setting a gap is before it is there.
ABOVE, BELOW = 1, 2
# ... and so near (s) to its firing nothing is asked of it.
NEAR_S = 1e-3


@dataclass(frozen=True, slots=True)
class Early:
    """A trigger that was met too early: as it begins to look, or so long after a phase began."""

    trigger: str
    since: Since
    after_s: float
    armed: bool


class Firsts:
    """The triggers of one problem that may be met early; what gaps meet is asked for as plans show it."""

    def __init__(self, model: Model, loops: frozenset[str]) -> None:
        """loops: movers whose path is closed, where a gap is the same a lap later: nothing is asked of those."""
        self.model = model
        self.apart_m = AT_M if model.exact else APART_M
        self.asked: list[Early] = []
        self._asked: list[tuple[int, Callable[[], Choice]]] = []
        for trigger in model.problem.triggers:
            if trigger.condition == "station" and trigger.during_phase is None:
                for time, station in _standing(model.courses[trigger.watch]):
                    self._add(partial(self._not_standing, trigger, time, station))
        self.triggers = [
            one
            for one in model.problem.triggers
            if one.gap is not None and one.watch not in loops and model.courses[one.watch].steps
        ]

    def ask(self, motions: Mapping[str, MoverReading], values: Values) -> bool:
        """Ask for every trigger whose setting a found plan meets before; says whether one does."""
        found = False
        for trigger in self.triggers:
            time_s = self._worst(trigger, motions, values)
            if time_s is not None:
                self._ask_at(trigger, time_s, values)
                found = True
        return found

    def exactly(self) -> bool:
        """Ask for no more than counts, where APART_M leaves no plan; says whether that changes anything."""
        changes = bool(self._asked) and self.apart_m > AT_M
        self.apart_m = AT_M
        for place, choice in self._asked if changes else ():
            self.model.choices[place] = choice()
        return changes

    def _add(self, choice: Callable[[], Choice]) -> None:
        self._asked.append((len(self.model.choices), choice))
        self.model.choices.append(choice())

    def _not_standing(self, trigger: TriggerProblem, time: Affine, station: Affine) -> Choice:
        """Fired by the time at which a standstill begins, or by what comes after it."""
        fires = self.model.triggers[trigger.name]
        what, origin = f"trigger {trigger.name} fires on the way", trigger.origin
        by_then = at_least(time, fires.crossing, what, "s", origin)
        beyond = at_least(fires.station, station.plus(self.apart_m), what, "m", origin)
        return Choice(what, ((beyond,), (by_then,)))

    def _armed(self, trigger: TriggerProblem) -> Affine:
        """When it begins to look: at go, or at the start of the phase that is named."""
        if trigger.named_phase and trigger.during_phase is not None:
            return self.model.courses[trigger.watch].time(trigger.during_phase)
        return given(0.0)

    def _ask_at(self, trigger: TriggerProblem, time_s: float, values: Values) -> None:
        courses = [self.model.courses[name] for name in trigger.watched]
        armed = time_s <= self._armed(trigger).at(values) + NEAR_S
        since, after_s = since_phase(courses, time_s, values)
        self._ask(trigger, Early(trigger.name, None if armed else since, after_s, armed))

    def ask_again(self, asked: Sequence[Early]) -> None:
        """Ask for what has been asked of another model of the same movers."""
        for one in asked:
            self._ask(next(t for t in self.triggers if t.name == one.trigger), one)

    def _ask(self, trigger: TriggerProblem, early: Early) -> None:
        self.asked.append(early)
        time = self.model.time_since(early.since).plus(early.after_s)
        if early.armed:
            time = self._armed(trigger)
        self._add(partial(self._choice, trigger, time))

    def _choice(self, trigger: TriggerProblem, time: Affine) -> Choice:
        """Above its setting from the first look on, or below it, or a time at which it doesn't look yet or any more."""
        fires, armed = self.model.triggers[trigger.name], self._armed(trigger)
        if fires.gap is None:
            raise AssertionError(trigger.name)
        what, origin = f"trigger {trigger.name} doesn't fire before", trigger.origin
        times = (armed,) if time == armed else (armed, time)
        gaps = [self._gap(trigger, one) for one in times]
        above = [at_least(gap, fires.gap.plus(self.apart_m), what, "m", origin) for gap in gaps]
        below = [at_least(fires.gap, gap.plus(self.apart_m), what, "m", origin) for gap in gaps]
        fired = at_least(time.plus(NEAR_S), fires.crossing, what, "s", origin)
        ways = [tuple(above), tuple(below), (fired,)]
        if armed.terms and time != armed:
            ways.append((at_least(armed, time, what, "s", origin),))
        return Choice(what, tuple(ways), trigger.name, (ABOVE, BELOW, 0, 0)[: len(ways)])

    def _gap(self, trigger: TriggerProblem, time: Affine) -> Affine:
        """The gap at a time before it fires; at go where both are by their starts."""
        model, label = self.model, f"before trigger {trigger.name}, {len(self.model.looks)}"
        here, there = (
            before_launch(model.courses[name], time, label)
            if time == given(0.0)
            else model.look(name, time, label)
            for name in trigger.watched
        )
        return gap_of(model, trigger, here.station, there, label)

    def _worst(
        self, trigger: TriggerProblem, motions: Mapping[str, MoverReading], values: Values
    ) -> float | None:
        """When, before it fires, a plan is at its setting or farthest on the other side; None: it is on one side."""
        fires = self.model.triggers[trigger.name]
        if fires.gap is None:
            raise AssertionError(trigger.name)
        start, end = self._armed(trigger).at(values), fires.crossing.at(values)
        if end <= start:
            return None
        setting = fires.gap.at(values)
        times = looks_at(motions, trigger.watched)
        looks = [start, *(time for time in times if start < time < end - NEAR_S)]
        over = self._gap_at(trigger, motions, start) - setting
        if abs(over) < AT_M / 2.0:
            return start if end > start + NEAR_S else None
        side = 1.0 if over > 0.0 else -1.0
        least, time_s = least_of(
            looks, lambda time: side * (self._gap_at(trigger, motions, time) - setting)
        )
        return None if least > AT_M / 2.0 else time_s

    def _gap_at(
        self, trigger: TriggerProblem, motions: Mapping[str, MoverReading], time_s: float
    ) -> float:
        gap = trigger.gap
        if gap is None:
            raise AssertionError(trigger.name)
        (station_a, _), (station_b, _) = (motions[name].at(time_s) for name in trigger.watched)
        track = None if gap.exact else self.model.tracks[trigger.name]
        facing = gap.line_at(station_b) if track is None else float(track.at(station_b)[0])
        return facing - gap.front_a_m - station_a


def _standing(course: Course) -> Iterator[tuple[Affine, Affine]]:
    """Since when and where a mover stands: at its start, and in its pauses."""
    if not course.mover.rolls:
        yield given(0.0), course.start
    for step in course.steps[1:]:
        if step.stands:
            yield step.time, step.station
