"""Encounters as written -> records."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import assert_never

from choreo.scenario.making.draft import Draft
from choreo.scenario.making.moments import event_of
from choreo.scenario.records.scenario import Body, Contact, Encounter, Event, Gap, Pass, Span
from choreo.scenario.text.document import Keys
from choreo.scenario.written import scenario as w
from choreo.words.kinds import (
    MEASURES,
    ContactPointName,
    ContactWay,
    GapMeasure,
    Measure,
    PassMeasure,
)
from choreo.words.quantities import QuantityError, parse
from choreo.words.tolerances import GAP_TOLERANCE_M, GAP_TOLERANCE_S
from choreo.words.units import UNITS

# What a gap or a pass is judged by when its author states no tolerance, by kind of quantity.
TOLERANCES = {"length": GAP_TOLERANCE_M, "time": GAP_TOLERANCE_S}
# Shares of a body's side that an author can mean; beyond, he most likely mistook the unit.
LEAST_SHARE, MOST_SHARE = -1.0, 2.0
# Of one that drives backwards the front is behind.
OTHER_END: Mapping[ContactPointName, ContactPointName] = {
    "reference": "reference",
    "front centre": "rear centre",
    "rear centre": "front centre",
}


def encounter_of(
    draft: Draft, name: str, written: w.EncounterWritten, bodies: Mapping[str, Body]
) -> Encounter | None:
    """Make an encounter of its kind."""
    match written:
        case w.ContactWritten():
            return _contact(draft, name, written, bodies)
        case w.GapWritten():
            return _gap(draft, name, written)
        case w.PassWritten():
            return _pass(draft, name, written)
    assert_never(written)


def _contact(
    draft: Draft, name: str, written: w.ContactWritten, bodies: Mapping[str, Body]
) -> Contact | None:
    keys: Keys = ("encounters", name)
    ways: dict[ContactWay, float | None] = {
        "overlap": written.overlap,
        "offset": written.offset,
        "side": written.side,
    }
    chosen = draft.one_of(keys, f"encounter `{name}`", ways)
    body = bodies.get(written.of)
    if chosen is None or body is None:
        return None
    way, value = chosen
    if way != "offset" and not LEAST_SHARE <= value <= MOST_SHARE:
        draft.fault(
            "scenario.bad-value",
            (*keys, way),
            where=f"encounter `{name}`",
            what=f"{value * 100:g} % is far outside the body",
            instead="Write a share between -100 % and 200 %.",
        )
    other = bodies.get(written.with_)
    point = written.point if other is None or not other.backwards else OTHER_END[written.point]
    anywhere = Contact(written.of, written.with_, "front", 0.0, None, point, written.tolerance)
    return contact_at(anywhere, body, way, value)


def contact_at(contact: Contact, body: Body, way: ContactWay, value: float) -> Contact:
    """Give a contact at another place of a body (of `of`): a share of its front or its side, or an offset in m."""
    match way:
        case "overlap":
            there = body.offset_of_overlap(value)
            return replace(contact, face="front", impact_m=there, overlap=value)
        case "offset":
            return replace(contact, face="front", impact_m=body.own(value), overlap=None)
        case "side":
            there = body.from_rear_of_side(value)
            return replace(contact, face="side", impact_m=there, overlap=None)
    assert_never(way)


def _gap(draft: Draft, name: str, written: w.GapWritten) -> Gap | None:
    keys: Keys = ("encounters", name)
    measures: dict[GapMeasure, Span | None] = {
        "distance": written.distance,
        "time gap": written.time_gap,
        "time to collision": written.time_to_collision,
    }
    chosen = draft.one_of(keys, f"encounter `{name}`", measures)
    if chosen is None:
        return None
    measure, wanted = chosen
    tolerance = _tolerance(draft, (*keys, "tolerance"), written.tolerance, measure)
    moments = _moments(draft, keys, name, written, measure)
    if moments is None:
        return None
    at, until = moments
    return Gap(written.of, written.with_, measure, wanted, at, tolerance, until)


def _moments(
    draft: Draft, keys: Keys, name: str, written: w.GapWritten, measure: GapMeasure
) -> tuple[Event, Event | None] | None:
    """The event at which a gap is judged, and the later one until which it holds."""
    choices = {"at": written.at, "during": written.during}
    chosen = draft.one_of(keys, f"encounter `{name}`", choices)
    if chosen is None:
        return None
    if written.during is None:
        at = event_of(draft, (*keys, "at"), written.at)
        return None if at is None else (at, None)
    if measure == "time to collision":
        draft.fault(
            "scenario.bad-value",
            (*keys, "time to collision"),
            where=f"encounter `{name}`",
            what="no time to collision holds: it falls while the two near each other",
            instead="Write `distance` or `time gap`, or `at: start of MOVER.PHASE`.",
        )
    start, end = (event_of(draft, (*keys, "during"), edge) for edge in written.during.edges)
    return None if start is None or end is None else (start, end)


def _pass(draft: Draft, name: str, written: w.PassWritten) -> Pass | None:
    keys: Keys = ("encounters", name)
    measures: dict[PassMeasure, Span | None] = {
        "distance": written.distance,
        "time": written.time,
    }
    chosen = draft.one_of(keys, f"encounter `{name}`", measures)
    if chosen is None:
        return None
    measure, wanted = chosen
    tolerance = _tolerance(draft, (*keys, "tolerance"), written.tolerance, measure)
    return Pass(
        written.of, written.with_, measure, wanted, written.first, written.between, tolerance
    )


def _tolerance(draft: Draft, keys: Keys, text: str | None, measure: Measure) -> float:
    """The tolerance as written, in m or s; the default where there is none, or a faulty one."""
    kind = UNITS[MEASURES[measure]].kind
    if text is None:
        return TOLERANCES[kind]
    try:
        value = parse(text, kind)
    except QuantityError as error:
        draft.fault(
            "scenario.bad-value", keys, where="tolerance", what=error.wrong, instead=error.instead
        )
        return TOLERANCES[kind]
    if value <= 0:
        draft.fault(
            "scenario.bad-value",
            keys,
            where="tolerance",
            what="a tolerance must be more than zero",
            instead="Write a positive tolerance.",
        )
    return value
