"""One encounter of a plan: when and where it is, what is wanted of it, and how fast the movers close."""

from __future__ import annotations

import math
from typing import assert_never

from choreo.plans.record import EncounterPlan
from choreo.scenario import Body, Contact, Encounter, Gap, Pass
from choreo.solve.plan_source import Place, Source
from choreo.words.kinds import MEASURES, EncounterKind, Measure


def encounter_plan(source: Source, name: str) -> EncounterPlan:
    """Write one encounter; `predicted` is what is wanted, until the verification has measured it."""
    encounter, moment = source.scenario.encounters[name], source.reading.moments[name]
    s_of, v_of = source.reading.movers[encounter.of].at(moment.time_s)
    s_with, v_with = source.reading.movers[encounter.with_].at(moment.time_s)
    kind, measure, wanted, tolerance = _asked(encounter)
    until_s = source.until_s(name)
    relative_mps = _relative_mps(source, encounter, (s_of, v_of), (s_with, v_with))
    return EncounterPlan(
        kind=kind,
        measure=measure,
        of=encounter.of,
        with_=encounter.with_,
        time_s=moment.time_s - source.zero_s,
        wanted=wanted,
        predicted=_expected(wanted),
        unit=MEASURES[measure],
        tolerance=tolerance,
        within=False,
        station_of_m=s_of,
        station_with_m=s_with,
        closing_mps=relative_mps[0],
        relative_mps=math.hypot(*relative_mps),
        place=_place(source, encounter, s_of, moment.station_b_m),
        until_s=None if until_s is None else until_s - source.zero_s,
    )


def _asked(
    encounter: Encounter,
) -> tuple[EncounterKind, Measure, tuple[float, float], float]:
    """Kind, measure, wanted range and tolerance."""
    match encounter:
        case Contact():
            wanted = encounter.impact_m, encounter.impact_m
            return "contact", _contact_measure(encounter), wanted, encounter.tolerance_m
        case Gap():
            wanted = encounter.wanted.lo, encounter.wanted.hi
            return "gap", encounter.measure, wanted, encounter.tolerance
        case Pass():
            wanted = encounter.wanted.lo, encounter.wanted.hi
            return "pass", encounter.measure, wanted, encounter.tolerance


def _contact_measure(contact: Contact) -> Measure:
    match contact.face:
        case "front":
            return "overlap"
        case "side":
            return "side"
        case _:
            assert_never(contact.face)


def _expected(wanted: tuple[float, float]) -> float:
    finite = [value for value in wanted if math.isfinite(value)]
    return finite[0] if finite else 0.0


def _relative_mps(
    source: Source, encounter: Encounter, of: tuple[float, float], with_: tuple[float, float]
) -> tuple[float, float]:
    """Velocity of `of` seen from `with`, ahead and to the left of `of`; of, with_: station and speed."""
    heading_of = source.place(encounter.of, of[0]).heading_rad
    turned = source.place(encounter.with_, with_[0]).heading_rad - heading_of
    return of[1] - with_[1] * math.cos(turned), -with_[1] * math.sin(turned)


def _place(
    source: Source, encounter: Encounter, s_of: float, station_b_m: float
) -> tuple[float, float]:
    """Where the bodies touch; for gaps and passes the front of `of`."""
    here, body = source.place(encounter.of, s_of), source.scenario.movers[encounter.of].body
    match encounter:
        case Gap() | Pass():
            forward, left = body.front_m, 0.0
        case Contact():
            other = source.place(encounter.with_, station_b_m)
            forward, left = _touch(encounter, body, here, other)
        case _:
            assert_never(encounter)
    ahead, across = math.cos(here.heading_rad), math.sin(here.heading_rad)
    return (
        here.x_m + forward * ahead - left * across,
        here.y_m + forward * across + left * ahead,
    )


def _touch(contact: Contact, body: Body, here: Place, other: Place) -> tuple[float, float]:
    """Where the bodies touch, forward and left of the reference point of `of`."""
    match contact.face:
        case "front":
            return body.front_m, contact.impact_m
        case "side":
            dx, dy = other.x_m - here.x_m, other.y_m - here.y_m
            beside = -dx * math.sin(here.heading_rad) + dy * math.cos(here.heading_rad)
            return contact.impact_m - body.rear_m, math.copysign(body.width_m / 2, beside)
        case _:
            assert_never(contact.face)
