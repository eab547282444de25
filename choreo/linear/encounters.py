"""Encounters as rows over looks at both movers."""

from __future__ import annotations

import math

from choreo.linear.affine import Affine, given, unknown
from choreo.linear.model import Model
from choreo.linear.records import Look, Met
from choreo.linear.rows import Row, at_least, equal
from choreo.problem.records import ContactPoint, ContactTrack, Encounter, GapAt, PassAt

# A time gap or a time to collision is only a measure while the speed it divides by is at least this (m/s).
LEAST_RATE_MPS = 0.05


def add_encounter(model: Model, encounter: Encounter) -> None:
    time = model.encounter_time(encounter)
    if isinstance(encounter, PassAt):
        _pass(model, encounter, time)
        return
    a = _at_encounter(model, encounter.a, time, encounter)
    b = _at_encounter(model, encounter.b, time, encounter)
    until = encounter.until if isinstance(encounter, GapAt) else None
    ends = time if until is None else model.time(until)
    model.met[encounter.name] = Met(time, a.station, b.station, ends)
    origin = encounter.origin
    if isinstance(encounter, ContactPoint):
        places = (encounter.station_a_m, encounter.station_b_m)
        loose = (encounter.loose_a_m, encounter.loose_b_m)
        for look, station, off in zip((a, b), places, loose, strict=True):
            what = f"{look.mover} at {encounter.name}"
            model.rows.append(Row(look.station.minus(station), -off, off, what, "m", origin))
    elif isinstance(encounter, ContactTrack):
        on_track, speed_b = _related(model, encounter, b, encounter.a0_m)
        what = f"{encounter.a} meets {encounter.b} at {encounter.name}"
        model.rows.append(equal(a.station, on_track, what, "m", origin))
        span = f"{encounter.name}: within the stretch where the overlap holds"
        model.rows.append(
            Row(b.station, encounter.span_b.lo, encounter.span_b.hi, span, "m", origin)
        )
        closes = f"{encounter.a} closes on {encounter.b} at {encounter.name}"
        model.rows.append(at_least(a.speed, speed_b, closes, "m/s", origin))
    else:
        _gap(model, encounter, a, b)


def _related(
    model: Model,
    encounter: ContactTrack | GapAt,
    b: Look,
    at_b0: float,
    label: str | None = None,
) -> tuple[Affine, Affine]:
    """Where and how fast `b` is along the path of `a`: a line over its own station, or a curve of geometry's."""
    if encounter.exact:
        along = b.station.minus(encounter.b0_m).times(encounter.slope).plus(at_b0)
        return along, b.speed.times(encounter.slope)
    course = model.courses[encounter.b]
    low, high = course.mover.start.lo, course.mover.room.hi
    if isinstance(encounter, ContactTrack):
        low, high = encounter.span_b.lo, encounter.span_b.hi
    return model.along(encounter.name, encounter.a, b, (low, high), label)


def _at_encounter(model: Model, mover: str, time: Affine, encounter: Encounter) -> Look:
    """A mover at an encounter: at the end of its hold where that lasts until then."""
    course = model.courses[mover]
    index = course.mover.hold_until(encounter.name)
    if index is None:
        return model.look(mover, time, encounter.name)
    speed = given(course.speed_mps(index))
    return Look(mover, time, course.station(index + 1), speed, encounter.name)


def add_held(model: Model, gap: GapAt, time: Affine, share: float) -> None:
    """Add that a gap is in what is allowed of it at a share of its time."""
    label = f"{gap.name}, {share:.4g} of its time"
    a, b = (model.look(name, time, label) for name in gap.pair)
    facing, _ = _related(model, gap, b, gap.facing0_m, label)
    room = facing.minus(gap.front_a_m).minus(a.station)
    what, origin = f"{label}: {gap.measure}", gap.origin
    rate = a.speed if gap.measure == "time gap" else given(1.0)
    off = drift(gap)
    model.rows.append(at_least(rate.times(gap.tolerance), off, f"{what}, drift", "m", origin))
    least, most = room.plus(off), room.minus(off)
    if math.isfinite(gap.wanted.lo):
        model.rows.append(at_least(least, rate.times(gap.wanted.lo), what, "m", origin))
    if math.isfinite(gap.wanted.hi):
        model.rows.append(at_least(rate.times(gap.wanted.hi), most, what, "m", origin))


def drift(gap: GapAt) -> Affine:
    """Give by how much (m) a gap that holds leaves what is wanted while it does."""
    return unknown(f"{gap.name}: drift")


def _gap(model: Model, gap: GapAt, a: Look, b: Look) -> None:
    facing, speed_b = _related(model, gap, b, gap.facing0_m)
    room = facing.minus(gap.front_a_m).minus(a.station)
    what, origin = f"{gap.name}: {gap.measure}", gap.origin
    low, high = gap.wanted.lo, gap.wanted.hi
    if gap.measure == "distance":
        model.rows.append(Row(room, low, high, what, "m", origin))
        return
    rate = a.speed if gap.measure == "time gap" else a.speed.minus(speed_b)
    model.rows.append(
        at_least(rate, LEAST_RATE_MPS, f"{gap.name}: {gap.a} moves on {gap.b}", "m/s", origin)
    )
    if gap.wanted.fixed:
        model.rows.append(equal(room, rate.times(low), what, "m", origin))
        return
    if math.isfinite(low):
        model.rows.append(at_least(room, rate.times(low), f"{what}, least", "m", origin))
    if math.isfinite(high):
        model.rows.append(at_least(rate.times(high), room, f"{what}, most", "m", origin))


def add_order(model: Model) -> None:
    """Gaps of two are over before they touch: what they do then isn't planned. A pass of points may be that touch."""
    gaps = [one for one in model.problem.encounters if isinstance(one, GapAt)]
    for contact in model.problem.encounters:
        if not isinstance(contact, (ContactPoint, ContactTrack)):
            continue
        for gap in gaps:
            if set(gap.pair) == set(contact.pair):
                what = f"{gap.name} before {contact.name}"
                row = at_least(
                    model.times[contact.name], model.met[gap.name].ends, what, "s", gap.origin
                )
                model.rows.append(row)


def _pass(model: Model, encounter: PassAt, time: Affine) -> None:
    first = _at_encounter(model, encounter.first, time, encounter)
    second = _at_encounter(model, encounter.second, time, encounter)
    leaves = f"{encounter.name}: {encounter.first} leaves the zone"
    model.rows.append(equal(first.station, encounter.exit_first_m, leaves, "m", encounter.origin))
    model.met[encounter.name] = Met(time, first.station, second.station, time)
    what = f"{encounter.name}: {encounter.measure}"
    low, high = encounter.wanted.lo, encounter.wanted.hi
    if encounter.measure == "distance":
        room = second.station.times(-1.0).plus(encounter.entry_second_m)
        model.rows.append(Row(room, low, high, what, "m", encounter.origin))
        return
    enters = unknown(f"{encounter.name}: {encounter.second} enters")
    model.rows.append(at_least(enters, 0.0, "", "s"))
    there = model.look(encounter.second, enters, f"{encounter.name}, entry")
    words = f"{encounter.name}: {encounter.second} enters the zone"
    model.rows.append(equal(there.station, encounter.entry_second_m, words, "m", encounter.origin))
    model.rows.append(Row(enters.minus(time), low, high, what, "s", encounter.origin))
