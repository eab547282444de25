"""Encounters and events of one simulated run: when they happen and what is measured then."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import field, replace
from functools import cached_property
from itertools import pairwise
from typing import assert_never

import numpy as np

from choreo.geometry import Path
from choreo.scenario import Contact, Encounter, Event, Gap, Pass, Scenario
from choreo.verification.clearing import Course
from choreo.verification.execution import Run
from choreo.verification.impact import impact_at
from choreo.verification.performing import PhaseSpan
from choreo.verification.projection import gap_state, of_laps_m
from choreo.verification.record import Measured
from choreo.verification.separation import Figure, Pair
from choreo.verification.tolerances import GAP_CLOCK_S, HELD_BEND, HELD_CLOCK_S
from choreo.verification.zone import Strip, crossing_stations_m, zone_strips
from choreo.words.kinds import GapMeasure
from choreo.words.records import dataclass


@dataclass(frozen=True, eq=False)
class Scene:
    """What stays the same in every run: bodies on their paths, and zones once they are found."""

    scenario: Scenario
    paths: Mapping[str, Path]
    figures: Mapping[str, Figure]
    zones: dict[str, tuple[Strip, Strip] | None] = field(default_factory=dict)

    def zone(self, name: str, encounter: Pass, run: Run) -> tuple[Strip, Strip] | None:
        """Give the strips of `first` and of the other mover for a pass, None where they never meet."""
        if name not in self.zones:
            self.zones[name] = self._find_zone(encounter, run)
        return self.zones[name]

    def _find_zone(self, encounter: Pass, run: Run) -> tuple[Strip, Strip] | None:
        first, second = first_and_second(encounter)
        if encounter.between == "reference points":
            crossing = crossing_stations_m(self.paths[first], self.paths[second])
            if crossing is None:
                return None
            return Strip(crossing[0], crossing[0]), Strip(crossing[1], crossing[1])
        return zone_strips(
            self.figures[first],
            self._range(first, run),
            self.figures[second],
            self._range(second, run),
        )

    def _range(self, mover: str, run: Run) -> tuple[float, float]:
        motion, length = run.motions[mover], self.paths[mover].length_m
        return min(0.0, motion.intervals[0].station_m), max(length, motion.last[1])


def first_and_second(encounter: Pass) -> tuple[str, str]:
    """Name the mover that passes first and the other."""
    first = encounter.first
    return first, encounter.with_ if first == encounter.of else encounter.of


@dataclass(frozen=True, eq=False)
class Moments:
    """Encounters and events of one run, found when first asked for."""

    scene: Scene
    run: Run
    _found: dict[str, Measured | None] = field(default_factory=dict)
    _passed_s: dict[tuple[str, float], float] = field(default_factory=dict)

    def encounter(self, name: str) -> Measured | None:
        """Measure an encounter; None when it never happens in this run."""
        if name not in self._found:
            self._found[name] = None
            encounter = self.scene.scenario.encounters[name]
            if {encounter.of, encounter.with_} <= set(self.run.motions):
                self._found[name] = self._measure(name, encounter)
        return self._found[name]

    def event_s(self, event: Event) -> float:
        """Give the time in s of an event of the scenario; inf when it never happens."""
        name, motion = event.name or "", self.run.motions.get(event.mover or "")
        match event.kind:
            case "encounter":
                measured = self.encounter(name)
                return math.inf if measured is None else measured.time_s
            case "trigger":
                return self.run.acts_s.get(name, math.inf)
            case "instant":
                instant = self.scene.scenario.instants[name]
                return self.event_s(instant.before) - instant.by_s
            case "launch":
                return math.inf if motion is None else motion.launch_s
            case "phase start" | "phase end":
                span = self._span(event)
                if span is None:
                    return math.inf
                return span.start_s if event.kind == "phase start" else span.end_s
            case "mark start" | "mark end":
                if motion is None:
                    return math.inf
                start_m, end_m = self.scene.paths[event.mover or ""].marks[name]
                station_m = start_m if event.kind == "mark start" else end_m
                passed = event.mover or "", station_m
                if passed not in self._passed_s:
                    self._passed_s[passed] = motion.time_at(station_m)
                return self._passed_s[passed]
            case _:
                assert_never(event.kind)

    def pair(self, of: str, with_: str) -> Pair:
        """Give two movers' bodies in motion."""
        figures, motions = self.scene.figures, self.run.motions
        return Pair(figures[of], motions[of], figures[with_], motions[with_])

    def touch_s(self, of: str, with_: str) -> float:
        """Give the first time in s after go at which two bodies touch; inf when they never do."""
        return self._course.touch_s(of, with_)

    @cached_property
    def _course(self) -> Course:
        return Course(self.scene.figures, self.run.motions, max(self.run.end_s, 1.0))

    def _span(self, event: Event) -> PhaseSpan | None:
        """When the phase that an event names begins and ends; None where it is never reached."""
        mover = event.mover or ""
        if mover not in self.run.motions:
            return None
        programme = self.scene.scenario.movers[mover].programme
        index = next(i for i, phase in enumerate(programme) if phase.name == event.name)
        return self.run.spans[mover].get(index)

    def _measure(self, name: str, encounter: Encounter) -> Measured | None:
        match encounter:
            case Contact():
                return self._contact(encounter)
            case Gap():
                return self._gap(encounter)
            case Pass():
                return self._pass(name, encounter)
            case _:
                assert_never(encounter)

    def _contact(self, contact: Contact) -> Measured | None:
        touch_s = self.touch_s(contact.of, contact.with_)
        if not math.isfinite(touch_s):
            return None
        pair, movers = self.pair(contact.of, contact.with_), self.scene.scenario.movers
        impact = impact_at(
            pair, touch_s, movers[contact.of].body, movers[contact.with_].body, contact.point
        )
        s_a, s_b = pair.stations(np.array([touch_s]))
        return Measured(
            value=impact.lateral_m if contact.face == "front" else impact.from_rear_m,
            time_s=touch_s,
            station_of_m=float(s_a[0]),
            station_with_m=float(s_b[0]),
            closing_mps=impact.closing_mps,
            place_m=impact.place_m,
            faces=impact.faces,
        )

    def _gap(self, gap: Gap) -> Measured | None:
        time_s = self.event_s(gap.at)
        if not math.isfinite(time_s):
            return None
        value, closing_mps = self._gap_at(gap, time_s)
        of_m, with_m = (self.run.motions[name].state(time_s)[0] for name in (gap.of, gap.with_))
        measured = Measured(value, time_s, of_m, with_m, closing_mps, None)
        if gap.held_until is None:
            return measured
        until_s = self.event_s(gap.held_until)
        if not time_s <= until_s < math.inf:
            return None
        return replace(measured, until_s=until_s, held=self._held(gap, time_s, until_s))

    def _gap_at(self, gap: Gap, time_s: float) -> tuple[float, float]:
        """What a gap measures at a time, inf where that has no meaning, and how fast the two close in m/s."""
        movers, paths = self.scene.scenario.movers, self.scene.paths
        state = self.run.motions[gap.of].state(time_s)
        other = self.run.motions[gap.with_].state(time_s)
        ahead = gap_state(
            paths[gap.of],
            movers[gap.of].body,
            state,
            paths[gap.with_],
            movers[gap.with_].body,
            other,
            one_path=movers[gap.of].path is not None
            and movers[gap.of].path == movers[gap.with_].path,
        )
        rates: dict[GapMeasure, float] = {
            "distance": 1.0,
            "time gap": state[1],
            "time to collision": ahead.closing_mps,
        }
        divisor = rates[gap.measure]
        gap_m = of_laps_m(paths[gap.of], ahead.gap_m, gap.wanted.middle * divisor)
        return (gap_m / divisor if divisor > 0.0 else math.inf), ahead.closing_mps

    def _held(self, gap: Gap, start_s: float, end_s: float) -> tuple[float, float]:
        """The least and the most that a gap measures from one time to another.

        Looked at at all changes of phase and every HELD_CLOCK_S, and again in the middle wherever that lies beside the
        straight line between its neighbours.
        """
        changes = {
            time_s
            for name in (gap.of, gap.with_)
            for span in self.run.spans[name].values()
            for time_s in span
            if start_s < time_s < end_s
        }
        least, most = math.inf, -math.inf
        for low_s, high_s in pairwise([start_s, *sorted(changes), end_s]):
            count = max(1, math.ceil((high_s - low_s) / HELD_CLOCK_S))
            times = np.linspace(low_s, high_s, count + 1).tolist()
            looks = [(time_s, self._gap_at(gap, time_s)[0]) for time_s in times]
            pairs = list(pairwise(looks))
            while pairs:
                (first_s, first), (last_s, last) = pairs.pop()
                least, most = min(least, first, last), max(most, first, last)
                middle_s = (first_s + last_s) / 2
                if last_s - first_s < GAP_CLOCK_S:
                    continue
                middle = self._gap_at(gap, middle_s)[0]
                if abs(middle - (first + last) / 2) > HELD_BEND:
                    pairs.append(((first_s, first), (middle_s, middle)))
                    pairs.append(((middle_s, middle), (last_s, last)))
        return least, most

    def _pass(self, name: str, wanted: Pass) -> Measured | None:
        strips = self.scene.zone(name, wanted, self.run)
        if strips is None:
            return None
        first, second = first_and_second(wanted)
        leaves_s = self.run.motions[first].time_at(strips[0].exit_m)
        if not math.isfinite(leaves_s):
            return None
        second_m, _ = self.run.motions[second].state(leaves_s)
        match wanted.measure:
            case "distance":
                value = strips[1].entry_m - second_m
            case "time":
                value = self.run.motions[second].time_at(strips[1].entry_m) - leaves_s
            case _:
                assert_never(wanted.measure)
        first_m, _ = self.run.motions[first].state(leaves_s)
        of_m, with_m = (first_m, second_m) if first == wanted.of else (second_m, first_m)
        return Measured(value, leaves_s, of_m, with_m, 0.0, None)
