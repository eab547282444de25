"""Encounters as rows: when each happens, and that both movers are then where it wants them."""

from __future__ import annotations

import math
from typing import assert_never

from choreo.problem.records import ContactPoint, ContactTrack, Encounter, GapAt, PassAt
from choreo.scenario import Event
from choreo.solve.apart_rows import add_apart_before_contact, add_apart_until_gap
from choreo.solve.events import Events, Moment
from choreo.solve.formulation import Expression, Owner, Passing, twin
from choreo.solve.tolerances import LEAST_RATE_MPS
from choreo.words.kinds import MEASURES
from choreo.words.origin import Origin

State = tuple[Expression, Expression]
# First guess (s) of a time of which nothing is known yet: of the size of a run, replaced where a motion is guessed.
SOME_TIME_S = 10
# A gap that holds is asked for at the ends of so many even parts of its time; the simulation looks everywhere.
HELD_LOOKS = 4


def name_encounter_times(events: Events) -> set[tuple[str, int]]:
    """Name the time of every contact and pass; a gap's is that of the event which it names.

    A contact happens where a hold that lasts until it ends; else its time is unknown. Returns the holds
    (mover, phase index) whose end is the contact by this: they need no row.
    """
    ended = set()
    for shape, encounter in zip(events.numeric.encounters, events.problem.encounters, strict=True):
        match shape:
            case GapAt():
                continue
            case PassAt():
                time = _leaving_time(events, shape, twin(shape, encounter))
            case ContactPoint() | ContactTrack():
                hold = events.numeric.hold_until(shape.name)
                if hold is None:
                    time = _unknown_contact_time(events, twin(shape, encounter))
                else:
                    ended.add(hold)
                    time = events.movers[hold[0]].phases[hold[1]].end_s
            case _:
                assert_never(shape)
        events.times[shape.name] = time
    return ended


def _unknown_contact_time(events: Events, encounter: ContactPoint | ContactTrack) -> Expression:
    label = f"{encounter.name}: time"
    passing = None
    if isinstance(encounter, ContactPoint):
        mover, station = encounter.a, encounter.station_a_m
        if not events.movers[mover].pieces:
            mover, station = encounter.b, encounter.station_b_m
        passing = Passing(mover, "station", station)
    return events.formulation.unknown(label, 0, math.inf, SOME_TIME_S, "time", passing=passing)


def _leaving_time(events: Events, shape: PassAt, encounter: PassAt) -> Expression:
    label = f"{encounter.name}: {encounter.first} leaves the zone"
    return _passing_time(events, label, encounter.first, encounter.exit_first_m, shape.origin)


def _entering_time(events: Events, shape: PassAt, encounter: PassAt) -> Expression:
    label = f"{encounter.name}: {encounter.second} enters the zone"
    return _passing_time(events, label, encounter.second, encounter.entry_second_m, shape.origin)


def _passing_time(
    events: Events, label: str, mover: str, station: Expression, origin: Origin | None
) -> Expression:
    """Add the time at which a mover is at a station."""
    passing = Passing(mover, "station", station)
    time = events.formulation.unknown(
        label, 0, math.inf, SOME_TIME_S, "time", Owner(mover), passing
    )
    events.formulation.equal(label, events.movers[mover].at(time)[0], station, "m", origin)
    return time


def add_encounter(events: Events, shape: Encounter, encounter: Encounter) -> None:
    """Add an encounter's rows. shape: with plain numbers, for structure; encounter: the same with symbols."""
    match shape:
        case ContactPoint():
            _contact_point(events, shape, twin(shape, encounter))
        case ContactTrack():
            _contact_track(events, shape, twin(shape, encounter))
        case GapAt():
            _gap(events, shape, twin(shape, encounter))
        case PassAt():
            _pass(events, shape, twin(shape, encounter))
        case _:
            assert_never(shape)


def _meet(events: Events, encounter: ContactPoint | ContactTrack | GapAt) -> tuple[State, State]:
    """Note the moment of an encounter; gives both movers' station and speed then."""
    time = events.time(Event("encounter", encounter.name))
    state_a, state_b = events.state(encounter.a, time), events.state(encounter.b, time)
    events.moments[encounter.name] = Moment(time, state_a[0], state_b[0])
    return state_a, state_b


def _contact_point(events: Events, shape: ContactPoint, contact: ContactPoint) -> None:
    state_a, state_b = _meet(events, contact)
    for mover, station, wanted in (
        (contact.a, state_a[0], contact.station_a_m),
        (contact.b, state_b[0], contact.station_b_m),
    ):
        label = f"{contact.name}: {mover} is at the contact"
        events.formulation.equal(label, station, wanted, "m", shape.origin)


def _contact_track(events: Events, shape: ContactTrack, contact: ContactTrack) -> None:
    (s_a, v_a), (s_b, v_b) = _meet(events, contact)
    rows, origin = events.formulation, shape.origin
    meets = f"{contact.name}: {contact.a} meets {contact.b}"
    rows.equal(meets, s_a, contact.line_at(s_b), "m", origin)
    span = f"{contact.name}: within the stretch where the overlap holds"
    rows.at_least(span, s_b, contact.span_b.lo, "m", origin)
    rows.at_least(span, contact.span_b.hi, s_b, "m", origin)
    closing = f"{contact.name}: {contact.a} closes on {contact.b}"
    rows.at_least(closing, v_a, contact.slope * v_b, "m/s", origin)
    if rows.form.apart_m > 0:
        add_apart_before_contact(events, shape, contact, events.times[contact.name])


def _gap(events: Events, shape: GapAt, gap: GapAt) -> None:
    (s_a, v_a), (s_b, v_b) = _meet(events, gap)
    room = gap.line_at(s_b) - gap.front_a_m - s_a
    rate = _counted_by(gap, v_a, v_b)
    if MEASURES[gap.measure] == "s":
        # The measure divides by this speed; without the row a standstill would satisfy any value.
        moving = f"{gap.name}: {gap.a} moves on {gap.b}"
        events.formulation.at_least(moving, rate, LEAST_RATE_MPS, "m/s", shape.origin)
    name = f"{gap.name}: {gap.measure}"
    events.formulation.in_range(name, room, rate, shape.wanted, gap.wanted, "m", shape.origin)
    if shape.until is not None:
        _held(events, shape, gap, events.time(shape.until))
    if events.formulation.form.apart_m > 0:
        add_apart_until_gap(events, shape, gap)


def _held(events: Events, shape: GapAt, gap: GapAt, until: Expression) -> None:
    """Add that a gap leaves what is wanted by no more than its tolerance, at even shares of its time."""
    rows, start = events.formulation, events.times[gap.name]
    drift = rows.unknown(f"{gap.name}: drift", 0, gap.tolerance, 0, "use")
    events.drifts.append(drift)
    for step in range(1, HELD_LOOKS + 1):
        time = until if step == HELD_LOOKS else start + (until - start) * step / HELD_LOOKS
        (s_a, v_a), (s_b, v_b) = events.state(gap.a, time), events.state(gap.b, time)
        room, rate = gap.line_at(s_b) - gap.front_a_m - s_a, _counted_by(gap, v_a, v_b)
        name = f"{gap.name}: {gap.measure}, {step} of {HELD_LOOKS} parts of its time"
        if math.isfinite(shape.wanted.lo):
            rows.at_least(name, room, (gap.wanted.lo - drift) * rate, "m", shape.origin)
        if math.isfinite(shape.wanted.hi):
            rows.at_least(name, (gap.wanted.hi + drift) * rate, room, "m", shape.origin)


def _counted_by(gap: GapAt, v_a: Expression, v_b: Expression) -> Expression:
    """What one unit of a gap's measure counts in metres: a metre is a metre, a second is the speed it divides by."""
    match gap.measure:
        case "distance":
            return 1
        case "time gap":
            return v_a
        case "time to collision":
            return v_a - gap.slope * v_b
        case _:
            assert_never(gap.measure)


def add_order(events: Events) -> None:
    """Add that gaps of two are over before they touch: what they do then isn't planned."""
    rows = events.formulation
    for contact in events.numeric.encounters:
        if not isinstance(contact, (ContactPoint, ContactTrack)):
            continue
        touch = events.times[contact.name]
        for one in events.numeric.encounters:
            if not isinstance(one, GapAt) or set(one.pair) != set(contact.pair):
                continue
            last = events.times[one.name] if one.until is None else events.time(one.until)
            if rows.depends_on(touch - last):  # else it is judged at the very contact
                name = f"{one.name} before {contact.name}"
                rows.at_least(name, touch, last, "s", one.origin)


def _pass(events: Events, shape: PassAt, encounter: PassAt) -> None:
    leaves = events.times[encounter.name]
    first, second = events.movers[encounter.first], events.movers[encounter.second]
    events.moments[encounter.name] = Moment(leaves, first.at(leaves)[0], second.at(leaves)[0])
    rows, origin = events.formulation, shape.origin
    name = f"{encounter.name}: {encounter.measure}"
    match encounter.measure:
        case "distance":
            value = encounter.entry_second_m - second.at(leaves)[0]
        case "time":
            value = _entering_time(events, shape, encounter) - leaves
        case _:
            assert_never(encounter.measure)
    unit = MEASURES[encounter.measure]
    rows.in_range(name, value, 1, shape.wanted, encounter.wanted, unit, origin)
