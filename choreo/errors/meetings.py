"""How encounters go in many runs: what is measured, when, and how fast the two are then."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TypeVar, assert_never

import numpy as np
from numpy.typing import NDArray

from choreo.errors.gaps import Gaps
from choreo.errors.laying import Spans
from choreo.errors.motions import NEVER_S, RunMotion
from choreo.errors.passes import passed
from choreo.errors.stage import Stage
from choreo.errors.touching import Couple, impact_of
from choreo.geometry.bodies import point_ahead_m
from choreo.plans.record import EncounterPlan
from choreo.scenario import Contact, Event, Gap, Pass
from choreo.track.motion import motion_of
from choreo.words.records import dataclass

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Number = TypeVar("Number", float, NDArray[np.float64])

# A gap that holds is looked at so often between its beginning and its end.
LOOKS = 17
# A gap as a time means nothing to who is slower, or closes more slowly (m/s), than this.
SLOW_MPS = 1e-3
# Bodies that are to touch are looked at from go until so long (s) after they would by plan.
PATIENCE_S = 5.0


@dataclass(frozen=True, eq=False)
class Met:
    """One encounter in many runs, each of shape (runs,); nan where it is missed.

    value: in the encounter's unit (m or s). time_s: NEVER_S where it is missed. closing_mps: how fast the two near each
    other. right_face: whether a contact is on the face that is wanted. least, most: of a gap that holds.
    """

    value: Floats
    time_s: Floats
    of_mps: Floats
    with_mps: Floats
    closing_mps: Floats
    right_face: Flags
    least: Floats
    most: Floats

    @property
    def met(self) -> Flags:
        """In which runs it happens at all, shape (runs,)."""
        return np.asarray(self.time_s < NEVER_S)


def meeting(
    stage: Stage,
    name: str,
    motions: Mapping[str, RunMotion],
    spans: Mapping[str, Spans],
    acts_s: Mapping[str, Floats],
) -> Met:
    """Measure an encounter. motions, spans: by mover; acts_s: by trigger, shape (runs,)."""
    encounter = stage.scenario.encounters[name]
    a, b = motions[encounter.of], motions[encounter.with_]
    right = np.ones(a.runs, dtype=bool)
    none = np.full(a.runs, np.nan)
    least = most = none
    match encounter:
        case Contact():
            value, time_s, closing, right = _contact(stage, name, encounter, a, b)
        case Gap():
            value, time_s, closing, least, most = _gap(
                stage, name, encounter, (motions, spans, acts_s)
            )
        case Pass():
            closing = np.zeros(a.runs)
            zone = stage.zones[name]
            value, time_s = none, np.full(a.runs, NEVER_S)
            if zone is not None:
                order = (a, b) if encounter.first == encounter.of else (b, a)
                value, time_s = passed(zone, encounter, order)
        case _:
            assert_never(encounter)
    missed = time_s >= NEVER_S
    then = np.where(missed, 0.0, time_s)
    of_mps, with_mps = a.states(then)[1], b.states(then)[1]
    value, of_mps, with_mps, closing = (
        np.where(missed, np.nan, one) for one in (value, of_mps, with_mps, closing)
    )
    return Met(value, time_s, of_mps, with_mps, closing, right, least, most)


def _contact(
    stage: Stage, name: str, contact: Contact, a: RunMotion, b: RunMotion
) -> tuple[Floats, Floats, Floats, Flags]:
    actors = stage.actors[contact.of], stage.actors[contact.with_]
    couple = Couple(actors[0], a, actors[1], b)
    until = np.full(a.runs, stage.plan.encounters[name].time_s + PATIENCE_S)
    time_s = couple.first_touch_s(np.zeros(a.runs), until)
    met = time_s < NEVER_S
    point = point_ahead_m(actors[1].mover.body, contact.point)
    impact = impact_of(couple, np.where(met, time_s, 0.0), point)
    match contact.face:
        case "front":
            return impact.left_m, time_s, impact.closing_mps, impact.front
        case "side":
            return impact.from_rear_m, time_s, impact.closing_mps, impact.side
        case _:
            assert_never(contact.face)


Known = tuple[Mapping[str, RunMotion], Mapping[str, Spans], Mapping[str, Floats]]


def _gap(
    stage: Stage, name: str, gap: Gap, known: Known
) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Value, time, closing speed, and the least and most of one that holds."""
    motions = known[0]
    planned = stage.plan.encounters[name]
    time_s = event_s(stage, gap.at, known)
    met = time_s < NEVER_S / 2
    then = np.where(met, time_s, 0.0)
    gaps = Gaps.planned(stage, gap.of, gap.with_, planned.time_s, _planned_m(stage, gap, planned))
    value, closing = _measured(gap, gaps, motions, then)
    met &= np.isfinite(value)
    least = most = np.full(len(then), np.nan)
    if gap.held_until is not None:
        until = event_s(stage, gap.held_until, known)
        met &= (until >= time_s) & (until < NEVER_S / 2)
        lasting = np.where(met, until - then, 0.0)
        looks = [
            _measured(gap, gaps, motions, then + share * lasting)[0]
            for share in np.linspace(0.0, 1.0, LOOKS)
        ]
        least, most = np.min(looks, axis=0), np.max(looks, axis=0)
    return value, np.where(met, time_s, NEVER_S), closing, least, most


def _planned_m(stage: Stage, gap: Gap, planned: EncounterPlan) -> float:
    """A gap by plan as a distance, whatever is measured of it."""
    speed = motion_of(stage.plan.movers[gap.of]).state(planned.time_s).speed_mps
    return planned.predicted * _rate(gap, 1.0, speed, planned.closing_mps)


def _measured(
    gap: Gap, gaps: Gaps, motions: Mapping[str, RunMotion], time_s: Floats
) -> tuple[Floats, Floats]:
    apart, closing, speed = gaps.true(motions[gap.of], motions[gap.with_], time_s)
    rate = _rate(gap, np.ones_like(apart), speed, closing)
    moving = rate > SLOW_MPS
    return np.where(moving, apart / np.where(moving, rate, 1.0), math.inf), closing


def _rate(gap: Gap, one: Number, speed: Number, closing: Number) -> Number:
    """What a distance is divided by to be what is measured of a gap."""
    match gap.measure:
        case "distance":
            return one
        case "time gap":
            return speed
        case "time to collision":
            return closing
        case _:
            assert_never(gap.measure)


def event_s(stage: Stage, event: Event, known: Known) -> Floats:
    """Give when an event of the scenario happens in each run, in s, NEVER_S where it doesn't; shape (runs,)."""
    motions, spans, acts = known
    name, mover = event.name or "", event.mover or ""
    runs = next(iter(motions.values())).runs
    never = np.full(runs, NEVER_S)
    match event.kind:
        case "encounter":
            return meeting(stage, name, *known).time_s
        case "trigger":
            return np.asarray(acts.get(name, never))
        case "instant":
            instant = stage.scenario.instants[name]
            before = event_s(stage, instant.before, known)
            return np.where(before < NEVER_S / 2, before - instant.by_s, NEVER_S)
        case "launch":
            return np.asarray(motions[mover].start_s[0])
        case "phase start" | "phase end":
            programme = stage.scenario.movers[mover].programme
            index = next(i for i, one in enumerate(programme) if one.name == name)
            span = spans[mover].get(index, (never, never))
            return np.asarray(span[0] if event.kind == "phase start" else span[1])
        case "mark start" | "mark end":
            start_m, end_m = stage.actors[mover].path.marks[name]
            return motions[mover].time_at(start_m if event.kind == "mark start" else end_m)
        case _:
            assert_never(event.kind)
