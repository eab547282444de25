"""Is every encounter met as asked, where and when the plan says, and does nothing else touch?"""

from __future__ import annotations

import math
from itertools import combinations
from typing import Literal, assert_never

from choreo.plans.record import EncounterPlan, Plan
from choreo.scenario import Contact, Encounter, Gap, Pass
from choreo.verification.impact import impact_at
from choreo.verification.ledger import Ledger
from choreo.verification.moments import Moments
from choreo.verification.record import Measured
from choreo.verification.tolerances import GEOMETRIC_TIME_S, HELD_SHARE, TOLERANCE_SHARE
from choreo.words.display import quantity
from choreo.words.kinds import MEASURES, Unit


def check_encounters(ledger: Ledger, plan: Plan, moments: Moments) -> float:
    """Check all encounters in the nominal run; give the largest error over its tolerance (inf: missed)."""
    worst = 0.0
    for name, encounter in ledger.scenario.encounters.items():
        measured = moments.encounter(name)
        if measured is None or not math.isfinite(measured.value):
            ledger.error(
                "encounter-missed",
                "encounters",
                name,
                encounter=name,
                of=encounter.of,
                with_=encounter.with_,
            )
            worst = math.inf
            continue
        low, high = wanted_span(encounter)
        error = measured.value - min(max(measured.value, low), high)
        tolerance = tolerance_of(encounter)
        worst = max(worst, abs(error) / tolerance)
        if abs(error) > TOLERANCE_SHARE * tolerance:
            ledger.error(
                "encounter-off",
                "encounters",
                name,
                encounter=name,
                value=measured.value,
                least=low,
                most=high,
                error=error,
                allowed=TOLERANCE_SHARE * tolerance,
                unit=unit_of(encounter),
            )
        if isinstance(encounter, Contact) and encounter.face not in measured.faces:
            ledger.error(
                "contact-face",
                "encounters",
                name,
                encounter=name,
                touched=" and ".join(sorted(measured.faces)),
                wanted=encounter.face,
            )
        _check_held(ledger, name, encounter, measured)
        _check_recorded(ledger, name, plan.encounters[name], measured, moments)
    return worst


def _check_held(ledger: Ledger, name: str, encounter: Encounter, measured: Measured) -> None:
    """A gap that holds stays within its tolerance all the time; it may use the whole of it."""
    if measured.held is None:
        return
    (low, high), tolerance = wanted_span(encounter), tolerance_of(encounter)
    least, most = measured.held
    error = max(low - least, most - high, 0.0)
    if error > (1.0 + HELD_SHARE) * tolerance:
        ledger.error(
            "gap-drifts",
            "encounters",
            name,
            encounter=name,
            least=least,
            most=most,
            low=low - tolerance,
            high=high + tolerance,
            unit=unit_of(encounter),
        )


def wanted_span(encounter: Encounter) -> tuple[float, float]:
    """Give the least and the most that is wanted, in m or s."""
    if isinstance(encounter, Contact):
        return encounter.impact_m, encounter.impact_m
    return encounter.wanted.lo, encounter.wanted.hi


def tolerance_of(encounter: Encounter) -> float:
    """Give an encounter's tolerance in the unit of its value."""
    return encounter.tolerance_m if isinstance(encounter, Contact) else encounter.tolerance


def unit_of(encounter: Encounter) -> Unit:
    """Give the unit of an encounter's value."""
    match encounter:
        case Contact():
            return "m"
        case Gap() | Pass():
            return MEASURES[encounter.measure]
        case _:
            assert_never(encounter)


def _check_recorded(
    ledger: Ledger, name: str, planned: EncounterPlan, found: Measured, moments: Moments
) -> None:
    if _ends_differ(planned.until_s, found.until_s):
        ledger.error(
            "gap-ends",
            "encounters",
            name,
            encounter=name,
            planned_s=math.nan if planned.until_s is None else planned.until_s,
            found_s=math.nan if found.until_s is None else found.until_s,
        )
    if abs(planned.time_s - found.time_s) > GEOMETRIC_TIME_S:
        ledger.error(
            "encounter-time",
            "encounters",
            name,
            encounter=name,
            planned_s=planned.time_s,
            found_s=found.time_s,
        )
        if planned.touches and found.time_s < planned.time_s:
            _add_touch(
                ledger, "early-contact", planned.of, planned.with_, found.time_s, found.place_m
            )
    for mover, recorded_m, found_m in (
        (planned.of, planned.station_of_m, found.station_of_m),
        (planned.with_, planned.station_with_m, found.station_with_m),
    ):
        _, speed_mps = moments.run.motions[mover].state(found.time_s)
        if abs(recorded_m - found_m) > GEOMETRIC_TIME_S * max(1.0, speed_mps):
            ledger.error(
                "encounter-station",
                "encounters",
                name,
                encounter=name,
                mover=mover,
                planned_m=recorded_m,
                found_m=found_m,
            )


def _ends_differ(planned_s: float | None, found_s: float | None) -> bool:
    if planned_s is None or found_s is None:
        return planned_s is not found_s
    return abs(planned_s - found_s) > GEOMETRIC_TIME_S


def check_order(ledger: Ledger, moments: Moments) -> None:
    """Check that no gap of two comes, or still holds, after they have touched: what they do then isn't planned.

    At the touch itself it may. Points pass each other where bodies touch.
    """
    encounters = ledger.scenario.encounters
    contacts = {name: one for name, one in encounters.items() if isinstance(one, Contact)}
    for name, encounter in encounters.items():
        found = moments.encounter(name)
        if found is None or not isinstance(encounter, Gap):
            continue
        last_s = found.time_s if found.until_s is None else found.until_s
        for contact, touching in contacts.items():
            touched = moments.encounter(contact)
            same = {touching.of, touching.with_} == {encounter.of, encounter.with_}
            if same and touched is not None and last_s > touched.time_s + GEOMETRIC_TIME_S:
                ledger.error(
                    "after-contact",
                    "encounters",
                    name,
                    encounter=name,
                    of=encounter.of,
                    with_=encounter.with_,
                    time_s=last_s,
                    contact=contact,
                    touch_s=touched.time_s,
                )


def check_unintended(ledger: Ledger, moments: Moments) -> None:
    """Look for bodies that touch without being asked to; intended pairs are judged by their
    contact.

    Things that both only stand may touch: a wall made of blocks is no accident.
    """
    run, scenario = moments.run, ledger.scenario
    intended = {
        frozenset((encounter.of, encounter.with_))
        for encounter in scenario.encounters.values()
        if isinstance(encounter, Contact)
    }
    for a, b in combinations(run.motions, 2):
        moving = run.motions[a].moves or run.motions[b].moves
        if not moving or frozenset((a, b)) in intended:
            continue
        touch_s = moments.touch_s(a, b)
        if math.isfinite(touch_s):
            bodies = scenario.movers[a].body, scenario.movers[b].body
            place = impact_at(moments.pair(a, b), touch_s, *bodies, "reference").place_m
            _add_touch(ledger, "unintended-contact", a, b, touch_s, place)


def _add_touch(
    ledger: Ledger,
    code: Literal["early-contact", "unintended-contact"],
    a: str,
    b: str,
    time_s: float,
    place_m: tuple[float, float] | None,
) -> None:
    x, y = place_m or (math.nan, math.nan)
    ledger.error(code, "movers", a, a=a, b=b, time_s=time_s, x_m=x, y_m=y)


def spread_of(
    ledger: Ledger, nominal: Moments, others: tuple[Moments, ...]
) -> dict[str, tuple[float, float]]:
    """Give least and most of each encounter's value over the runs; warn where the tolerance is left."""
    spread = {}
    for name, encounter in ledger.scenario.encounters.items():
        found = [moments.encounter(name) for moments in (nominal, *others)]
        values = [one.value for one in found if one is not None and math.isfinite(one.value)]
        if nominal.encounter(name) is None:
            continue
        missed = len(values) < len(found)
        values += [value for one in found if one is not None for value in one.held or ()]
        if missed:
            ledger.warning("spread-missed", "encounters", name, encounter=name)
            continue
        least, most = min(values), max(values)
        spread[name] = (least, most)
        low, high = wanted_span(encounter)
        tolerance = tolerance_of(encounter)
        if least < low - tolerance or most > high + tolerance:
            ledger.warning(
                "spread",
                "encounters",
                name,
                encounter=name,
                least=_told(ledger, encounter, least),
                most=_told(ledger, encounter, most),
                wanted=" to ".join(_told(ledger, encounter, one) for one in sorted({low, high})),
                tolerance=quantity(tolerance, unit_of(encounter)),
            )
    return spread


def _told(ledger: Ledger, encounter: Encounter, value: float) -> str:
    """An encounter's value as its author counts it: of a contact the share of the front or of the side."""
    if isinstance(encounter, Contact):
        body = ledger.scenario.movers[encounter.of].body
        if encounter.face != "front":
            return f"{100 * body.side_of_from_rear(value):.1f} %"
        if encounter.overlap is not None:
            return f"{100 * body.overlap_of_offset(value):.1f} %"
        return f"{body.own(value):+.3f} m"
    return quantity(value, unit_of(encounter))
