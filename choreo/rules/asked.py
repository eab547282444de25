"""What a family asks of a scenario: tolerances of its encounters, bands of its movers, how long who is steady."""

from __future__ import annotations

from dataclasses import replace

from choreo.rules.cast import Cast, last_ramp, speed_in_test
from choreo.rules.records import Band, Family, Instant, Role, Settle, Signal, Source
from choreo.scenario import Contact, Encounter, Gap, Mover, Pass

T0 = "T0"


def encounter_tolerance(cast: Cast, name: str, one: Encounter) -> tuple[float, Source] | None:
    """Give the tolerance that a family has of an encounter, either way, in m or s; None where it has none."""
    role = next((role for known, _, role in cast.encounters() if known == name), None)
    if role is None or isinstance(one, Pass):
        return None
    if isinstance(one, Contact):
        body = cast.scenario.movers[one.of].body
        for rule in cast.family.of(Instant):
            if rule.role != role or rule.upper is None or rule.lower != -rule.upper:
                continue
            if rule.signal == "impact location":
                size_m = body.width_m if one.face == "front" else body.length_m
                return rule.upper * size_m, rule.source
            if rule.signal == "impact offset":
                return rule.upper, rule.source
        return None
    found = gap_band(cast, role, one)
    if found is None:
        return None
    low, high, source = found
    room = min(one.wanted.lo - low, high - one.wanted.hi)
    return (room, source) if room > 0 else None


def gap_band(cast: Cast, role: Role, one: Gap) -> tuple[float, float, Source] | None:
    """Give from where to where a family lets a gap be, in its unit, and which clause says so; None: it doesn't."""
    if one.measure == "time to collision":
        return None
    signal: Signal = "distance" if one.measure == "distance" else "time gap"
    for band in cast.family.of(Band):
        if band.role != role or band.signal != signal or band.lower is None or band.upper is None:
            continue
        if band.reference.name == "constant":
            return band.reference.value + band.lower, band.reference.value + band.upper, band.source
        return one.wanted.lo + band.lower, one.wanted.hi + band.upper, band.source
    return None


def steady_before(cast: Cast, name: str) -> tuple[int, float, Source] | None:
    """Give the hold in which a mover must be steady for the test: its index, how long in s, and where that is said."""
    family, mover = cast.family, cast.scenario.movers[name]
    role = next((role for role, one in cast.movers.items() if one == name), None)
    band = None if role is None else band_of(cast, role, "speed")
    if family.t0 is None or band is None:
        return None
    settles = [
        rule
        for rule in family.of(Settle)
        if rule.event == family.t0 or rule.event.event in (T0, family.t0.event)
    ]
    lasting_s = max((rule.lasting_s for rule in settles), default=0.0)
    source = settles[0].source if settles else family.windows[band.window].source
    hold = _last_hold(mover)
    if family.t0.value_s is not None:
        if hold is None or not from_start_of_test(family, band):
            return None
        return hold, family.t0.value_s + lasting_s, source
    if family.t0.event == "lead brakes":
        lead = cast.lead()
        steady_s = max(lasting_s, -family.t0.offset_s)
        if lead is None or lead[0] != name:
            return None
        return lead[2] - 1, steady_s, source
    if family.t0.event == "target steady" and name in cast.others().values() and hold is not None:
        return hold, max(lasting_s, family.t0.offset_s), source
    return None


def from_start_of_test(family: Family, band: Band) -> bool:
    """Whether a band holds from the start of test on, or from before it."""
    starts = family.windows[band.window].starts
    if starts.event == T0:
        return starts.offset_s <= 0.0
    return family.t0 is not None and starts.event == family.t0.event


def _last_hold(mover: Mover) -> int | None:
    """The hold after the ramp that brings a mover to its speed."""
    ramp = last_ramp(mover)
    after = 0 if ramp is None else ramp[0] + 1
    phases = mover.programme
    return after if after < len(phases) and phases[after].kind == "hold" else None


def band_of(cast: Cast, role: Role, signal: Signal) -> Band | None:
    """Give the band of a signal, from what is planned on; of several that follow each other the widest.

    The widest refuses nothing that is valid. A band of a speed about a constant counts from the planned speed here.
    """
    found = []
    for band in cast.family.of(Band):
        if band.role != role or band.signal != signal:
            continue
        if band.reference.name != "constant":
            found.append(band)
            continue
        planned = speed_in_test(cast.of(role)) if role in cast.movers else None
        if signal == "speed" and planned is not None:
            off = band.reference.value - planned
            ends = (None if end is None else end + off for end in (band.lower, band.upper))
            lower, upper = ends
            if (lower or 0.0) <= 0.0 <= (upper or 0.0):
                found.append(replace(band, lower=lower, upper=upper))
    return max(found, key=_width, default=None)


def _width(band: Band) -> float:
    low, high = ends_of(band) or (0.0, 0.0)
    return high - low


def ends_of(band: Band | None) -> tuple[float, float] | None:
    if band is None or band.lower is None or band.upper is None:
        return None
    return band.lower, band.upper
