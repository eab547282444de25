"""What a rule set finds in a scenario as it is written: each finding names the clause. Nothing here forbids a plan."""

from __future__ import annotations

import math
from collections.abc import Iterator

from choreo.rules.asked import (
    band_of,
    encounter_tolerance,
    ends_of,
    gap_band,
    steady_before,
)
from choreo.rules.cast import Cast, last_ramp, speed_in_test
from choreo.rules.numbers import told, told_bounds
from choreo.rules.records import (
    QUANTITIES,
    Band,
    Condition,
    Grid,
    RuleSet,
    Signal,
    SignalUnit,
    Source,
    Status,
    Window,
)
from choreo.scenario import Contact, Gap
from choreo.words import Finding, Origin
from choreo.words.quantities import QuantityError, kind_of, parse

# Two speeds, or two shares, this near are the same: a value written in m/s need not be one of the grid to the last bit.
SAME = 1e-6
HELD: tuple[tuple[Signal, SignalUnit], ...] = (("speed", "m/s"), ("lateral deviation", "m"))
UNSURE: dict[Status, str] = {
    "second-hand": "second-hand",
    "from memory": "from memory",
    "bracketed": "provisional in the document",
}


def findings_of(rules: RuleSet, cast: Cast) -> tuple[Finding, ...]:
    """Hold a scenario against a family's rules."""
    place = cast.scenario.origin("rules")
    return (
        *_about_the_set(rules, cast, place),
        *_grid(rules, cast),
        *_tolerances(cast),
        *_site(cast),
        *_one_sided(cast),
    )


def _about_the_set(rules: RuleSet, cast: Cast, place: Origin) -> Iterator[Finding]:
    if not rules.newest:
        note = rules.note or "a later version is known"
        yield Finding("rules.outdated", "note", place, {"set": rules.name, "note": note.strip()})
    elif not rules.on_newest:
        note = rules.note or "a later version is known"
        told_base = f"{rules.name} builds on it; {note.strip()}"
        base = rules.builds_on or ""
        yield Finding("rules.outdated", "note", place, {"set": base, "note": told_base})
    unsure: dict[str, list[str]] = {}
    for rule in cast.family.rules:
        word = UNSURE.get(rule.source.status)
        if word is not None and not isinstance(rule, Window):
            unsure.setdefault(word, []).append(rule.id)
    if any(grid.source.status != "seen" for grid in cast.family.matrix):
        unsure.setdefault("second-hand", []).append("the matrix's split")
    if unsure:
        words = "; ".join(f"{word}: {', '.join(ids)}" for word, ids in unsure.items())
        values = {"set": rules.name, "family": cast.family.name, "which": words}
        yield Finding("rules.second-hand", "note", place, values)


def _grid(rules: RuleSet, cast: Cast) -> Iterator[Finding]:
    """Speeds and places on the front that the published matrix doesn't have."""
    family, scenario = cast.family, cast.scenario
    if not family.matrix:
        return
    asked: list[tuple[str, float, str, Origin]] = []
    for role, name in cast.movers.items():
        speed = speed_in_test(scenario.movers[name])
        if speed is not None:
            key = "subject speed" if role == "subject" else "target speed"
            ramp = last_ramp(scenario.movers[name])
            keys = ("movers", name) if ramp is None else ("movers", name, "programme", ramp[0])
            asked.append((key, speed, name, scenario.origin(*keys)))
    found = cast.contact()
    if found is not None:
        name, contact = found
        if contact.overlap is not None:
            key = "impact location" if contact.face == "front" else "impact side"
            asked.append((key, contact.overlap, name, scenario.origin("encounters", name)))
    for key, value, name, place in asked:
        known = _known(family.matrix, key)
        if known and not any(math.isclose(value, one, abs_tol=SAME) for one in known):
            yield _off_grid(rules, family.matrix, (key, value, name), known, place)


def _known(grids: tuple[Grid, ...], key: str) -> dict[float, str]:
    """All values of the matrix under a name, in SI, as they are written; `overlap` counts as a place on the front."""
    names = (key, "overlap") if key == "impact location" else (key,)
    found: dict[float, str] = {}
    for grid in grids:
        lists = {**grid.vary, **grid.together}
        for text in (text for name in names for text in lists.get(name, ())):
            try:
                found[parse(text, kind_of(text))] = text
            except QuantityError:
                continue
    return dict(sorted(found.items()))


def _off_grid(
    rules: RuleSet,
    grids: tuple[Grid, ...],
    asked: tuple[str, float, str],
    known: dict[float, str],
    place: Origin,
) -> Finding:
    key, value, name = asked
    nearest = min(known, key=lambda one: abs(one - value))
    unit = "%" if key.startswith("impact") else "km/h"
    shown = f"{100 * value:.4g} %" if unit == "%" else f"{3.6 * value:.4g} km/h"
    clause = next((grid.source.words for grid in grids if grid.source.clause), rules.name)
    values = {"what": f"{key} of {name}", "value": shown, "near": known[nearest], "clause": clause}
    return Finding("rules.off-grid", "note", place, values)


def _site(cast: Cast) -> Iterator[Finding]:
    """What the site says of its friction and slopes."""
    site = cast.scenario.site
    if site is None:
        return
    rules = {rule.quantity: rule for rule in cast.family.of(Condition) if rule.of == "track"}
    for area in site.areas:
        friction = rules.get("peak friction")
        if friction is not None and area.friction is not None:
            yield from _condition(friction, area.friction, area.name, area.origin)
        slope = rules.get("longitudinal slope")
        if slope is not None and area.slope is not None:
            # Whichever way it is driven it is no steeper than that.
            yield from _condition(slope, area.slope.grade_ratio, area.name, area.origin)


def _condition(rule: Condition, value: float, area: str, place: Origin) -> Iterator[Finding]:
    low = -math.inf if rule.lower is None else rule.lower
    high = math.inf if rule.upper is None else rule.upper
    if low - SAME <= value <= high + SAME:
        return
    unit = QUANTITIES[rule.quantity]
    values = {
        "what": f"{rule.quantity} of {area}",
        "value": told(value, unit, rule.quantity),
        "bound": told_bounds(rule.lower, rule.upper, unit, rule.quantity, plain=True),
        "clause": rule.source.words,
    }
    yield Finding("rules.condition", "warning", place, values)


def _one_sided(cast: Cast) -> Iterator[Finding]:
    """A band that begins at what is planned leaves no room there: the middle of it is a better aim."""
    for band in cast.family.of(Band):
        if band.signal != "speed" or band.lower is None or band.upper is None:
            continue
        if band.role not in cast.movers or band.reference.name != "planned":
            continue
        name = cast.movers[band.role]
        if not cast.scenario.movers[name].programme or 0.0 not in (band.lower, band.upper):
            continue
        values = {
            "name": name,
            "bounds": told_bounds(band.lower, band.upper, "m/s"),
            "aim": f"{3.6 * (band.lower + band.upper) / 2:+.4g} km/h",
            "clause": band.source.words,
        }
        yield Finding("rules.one-sided", "note", cast.scenario.origin("movers", name), values)


def _tolerances(cast: Cast) -> Iterator[Finding]:
    """Tolerances that the author wrote wider than the set's, and steady times that are shorter."""
    scenario = cast.scenario
    for name, one, role in cast.encounters():
        place = scenario.origin("encounters", name, "tolerance")
        written = ("encounters", name, "tolerance") in scenario.places
        if isinstance(one, Gap):
            band = gap_band(cast, role, one)
            # What is left out comes from the set where there is room for it.
            if band is not None and (written or encounter_tolerance(cast, name, one) is None):
                yield from _gap(name, one, band, place)
        elif isinstance(one, Contact) and written:
            found = encounter_tolerance(cast, name, one)
            if found is not None and one.tolerance_m > found[0] * (1 + SAME):
                own, bound = told(one.tolerance_m, "m"), told(found[0], "m")
                yield _wider(f"the tolerance of {name}", own, bound, found[1], place)
    for role, name in cast.movers.items():
        own_ones = scenario.tolerances.get(name)
        for signal, unit in HELD:
            band_ = band_of(cast, role, signal)
            ends = ends_of(band_)
            mine = None
            if own_ones is not None:
                mine = own_ones.speed_mps if signal == "speed" else own_ones.beside_m
            if band_ is None or ends is None or mine is None:
                continue
            if mine[0] < ends[0] - SAME or mine[1] > ends[1] + SAME:
                place = scenario.origin("movers", name, "tolerances")
                own, bound = told_bounds(*mine, unit), told_bounds(*ends, unit)
                yield _wider(f"the tolerance of {name}'s {signal}", own, bound, band_.source, place)
        steady = steady_before(cast, name)
        if steady is None:
            continue
        index, lasting_s, source = steady
        settle_s = scenario.movers[name].programme[index].settle_s
        if 0.0 < settle_s < lasting_s - SAME:
            place = scenario.origin("movers", name, "programme", index, "settle")
            values = {
                "name": name,
                "own": told(settle_s, "s"),
                "bound": told(lasting_s, "s"),
                "clause": source.words,
            }
            yield Finding("rules.settle", "warning", place, values)


def _gap(
    name: str, one: Gap, band: tuple[float, float, Source], place: Origin
) -> Iterator[Finding]:
    low, high, source = band
    if one.wanted.lo - one.tolerance >= low - SAME and one.wanted.hi + one.tolerance <= high + SAME:
        return
    unit: SignalUnit = "m" if one.measure == "distance" else "s"
    own = f"{told(one.wanted.lo, unit)} +/- {told(one.tolerance, unit)}"
    if not one.wanted.fixed:
        own = f"{told(one.wanted.lo, unit)}..{told(one.wanted.hi, unit)} +/- {told(one.tolerance, unit)}"
    yield _wider(name, own, told_bounds(low, high, unit, plain=True), source, place)


def _wider(what: str, own: str, bound: str, source: Source, place: Origin) -> Finding:
    values = {"what": what, "own": own, "bound": bound, "clause": source.words}
    return Finding("rules.wider", "warning", place, values)
