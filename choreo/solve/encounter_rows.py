"""Encounters as rows: when each happens, and that both movers are then where it wants them."""

from __future__ import annotations

import math

from choreo.problem.records import (
    ContactPoint,
    ContactTrack,
    Encounter,
    EventRef,
    GapAt,
    PassAt,
)
from choreo.solve.apart_rows import add_apart_before_contact, add_apart_until_gap
from choreo.solve.events import Events, Moment
from choreo.solve.tolerances import LEAST_RATE_MPS
from choreo.solve.unknowns import Expression

State = tuple[Expression, Expression]


def name_encounter_times(events: Events) -> set[tuple[str, int]]:
    """Name the time of every contact and pass; a gap's is that of the event which it names.

    A contact happens where a hold that lasts until it ends; else its time is unknown. Returns the holds
    (mover, phase index) whose end is the contact by this: they need no row.
    """
    ended = set()
    for shape, encounter in zip(events.numeric.encounters, events.problem.encounters, strict=True):
        if isinstance(encounter, GapAt):
            continue
        hold = events.numeric.hold_until(encounter.name)
        if isinstance(encounter, PassAt):
            events.times[encounter.name] = _leaving_time(events, shape, encounter)
        elif hold is not None:
            ended.add(hold)
            events.times[encounter.name] = events.movers[hold[0]].phases[hold[1]].end_s
        else:
            events.times[encounter.name] = _unknown_contact_time(events, encounter)
    return ended


def _unknown_contact_time(events: Events, encounter: ContactPoint | ContactTrack) -> Expression:
    label = f"{encounter.name}: time"
    locate = None
    if isinstance(encounter, ContactPoint):
        mover, station = encounter.a, encounter.station_a_m
        if not events.movers[mover].pieces:
            mover, station = encounter.b, encounter.station_b_m
        locate = (mover, "station", station)
    return events.programme.unknown(label, 0, math.inf, 10, locate)


def _leaving_time(events: Events, shape: Encounter, encounter: PassAt) -> Expression:
    label = f"{encounter.name}: {encounter.first} leaves the zone"
    time = events.programme.unknown(
        label, 0, math.inf, 10, (encounter.first, "station", encounter.exit_first_m)
    )
    reached = events.movers[encounter.first].at(time)[0]
    events.programme.equal(label, reached, encounter.exit_first_m, "m", shape.origin)
    return time


def add_encounter(events: Events, shape: Encounter, encounter: Encounter) -> None:
    """Add an encounter's rows. shape: with plain numbers, for structure; encounter: the same with symbols."""
    if isinstance(encounter, PassAt) and isinstance(shape, PassAt):
        _pass(events, shape, encounter)
        return
    if isinstance(encounter, PassAt):
        raise AssertionError(encounter.name)
    time = events.time(EventRef("encounter", encounter.name))
    state_a, state_b = events.state(encounter.a, time), events.state(encounter.b, time)
    events.moments[encounter.name] = Moment(time, state_a[0], state_b[0])
    if isinstance(encounter, ContactPoint):
        _contact_point(events, shape, encounter, state_a, state_b)
    elif isinstance(encounter, ContactTrack) and isinstance(shape, ContactTrack):
        _contact_track(events, shape, encounter, state_a, state_b)
        if events.programme.form.apart_m > 0:
            add_apart_before_contact(events, shape, encounter, time)
    elif isinstance(shape, GapAt) and isinstance(encounter, GapAt):
        _gap(events, shape, encounter, state_a, state_b)
        if events.programme.form.apart_m > 0:
            add_apart_until_gap(events, shape, encounter)


def _contact_point(
    events: Events, shape: Encounter, contact: ContactPoint, state_a: State, state_b: State
) -> None:
    for mover, station, wanted in (
        (contact.a, state_a[0], contact.station_a_m),
        (contact.b, state_b[0], contact.station_b_m),
    ):
        label = f"{contact.name}: {mover} is at the contact"
        events.programme.equal(label, station, wanted, "m", shape.origin)


def _contact_track(
    events: Events, shape: ContactTrack, contact: ContactTrack, state_a: State, state_b: State
) -> None:
    (s_a, v_a), (s_b, v_b) = state_a, state_b
    rows, origin = events.programme, shape.origin
    on_track = contact.a0_m + contact.slope * (s_b - contact.b0_m)
    rows.equal(f"{contact.name}: {contact.a} meets {contact.b}", s_a, on_track, "m", origin)
    span = f"{contact.name}: within the stretch where the overlap holds"
    rows.at_least(span, s_b, contact.span_b.lo, "m", origin)
    rows.at_least(span, contact.span_b.hi, s_b, "m", origin)
    closing = f"{contact.name}: {contact.a} closes on {contact.b}"
    rows.at_least(closing, v_a, contact.slope * v_b, "m/s", origin)


def _gap(events: Events, shape: GapAt, gap: GapAt, state_a: State, state_b: State) -> None:
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
        events.programme.at_least(moving, rate, LEAST_RATE_MPS, "m/s", shape.origin)
    name = f"{gap.name}: {gap.measure}"
    events.programme.in_range(name, room, rate, shape.wanted, gap.wanted, "m", shape.origin)


def _pass(events: Events, shape: PassAt, encounter: PassAt) -> None:
    leaves = events.times[encounter.name]
    first, second = events.movers[encounter.first], events.movers[encounter.second]
    events.moments[encounter.name] = Moment(leaves, first.at(leaves)[0], second.at(leaves)[0])
    rows, origin = events.programme, shape.origin
    name = f"{encounter.name}: {encounter.measure}"
    if encounter.measure == "distance":
        room = encounter.entry_second_m - second.at(leaves)[0]
        rows.in_range(name, room, 1, shape.wanted, encounter.wanted, "m", origin)
        return
    label = f"{encounter.name}: {encounter.second} enters the zone"
    enters = rows.unknown(
        label, 0, math.inf, 10, (encounter.second, "station", encounter.entry_second_m)
    )
    rows.equal(label, second.at(enters)[0], encounter.entry_second_m, "m", origin)
    rows.in_range(name, enters - leaves, 1, shape.wanted, encounter.wanted, "s", origin)
