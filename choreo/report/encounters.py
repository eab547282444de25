"""What a plan's encounters are and how fast they are, in words and as a table."""

from __future__ import annotations

import math
from typing import assert_never

from choreo.plans.record import EncounterPlan, Plan
from choreo.report.sections import Notes, Section, Table
from choreo.scenario import Contact, Scenario
from choreo.words.display import KMH_PER_MPS, plain, quantity, seconds

# Bodies that slide along each other by less than this (m/s) as they touch are not told to.
LEAST_SLIDE_MPS = 0.02


def encounter_sections(scenario: Scenario, plan: Plan) -> list[Section]:
    """Give the table of the encounters, and what is told beside it: speeds of impacts that slide, gaps that hold."""
    if not plan.encounters:
        return []
    rows = tuple(
        (
            name,
            f"{one.of} / {one.with_}",
            plain(one.time_s),
            wanted_words(scenario, name, one),
            simulated_words(scenario, name, one),
            f"{one.off:.3f} of {quantity(one.tolerance, one.unit)}"
            + ("" if one.within else " OUT"),
            plain(one.closing_mps * KMH_PER_MPS, 1),
        )
        for name, one in plan.encounters.items()
    )
    header = (
        "encounter",
        "of / with",
        "after go\ns",
        "wanted",
        "simulated",
        "error",
        "closing\nkm/h",
    )
    table = Table("encounters", header, rows, frozenset({2, 6}))
    held = tuple(
        f"{name}: {words}"
        for name, one in plan.encounters.items()
        if (words := held_words(one)) is not None
    )
    beside = tuple(
        f"{name}: {words}."
        for name, one in plan.encounters.items()
        if (words := relative_words(one)) is not None
    )
    found: list[Section] = [table]
    if beside:
        found.append(Notes("speeds at encounters", beside, key="relative"))
    return [*found, Notes("gaps that hold", held, key="held")] if held else found


def relative_words(one: EncounterPlan) -> str | None:
    """Tell the speed of one body seen from the other where the bodies also slide along each other; else None."""
    if not one.touches or one.relative_mps is None:
        return None
    if one.relative_mps - abs(one.closing_mps) < LEAST_SLIDE_MPS:
        return None
    return (
        f"{one.of} moves at {plain(one.relative_mps * KMH_PER_MPS, 1)} km/h seen from {one.with_}, "
        f"of which {plain(one.closing_mps * KMH_PER_MPS, 1)} km/h bring the two together"
    )


def held_words(one: EncounterPlan) -> str | None:
    """Say from when to when a gap holds, and how far it drifts; None for all else."""
    if one.until_s is None or one.held is None:
        return None
    least, most = one.held
    return (
        f"from {plain(one.time_s)} to {seconds(one.until_s)} after go, "
        f"{one.measure} {quantity(least, one.unit)} to {quantity(most, one.unit)}: "
        f"it drifts by {quantity(most - least, one.unit)}."
    )


def wanted_words(scenario: Scenario, name: str, one: EncounterPlan) -> str:
    """Give what is wanted of an encounter, as the scenario's author counts it (overlap, metres, seconds)."""
    return _value(scenario, name, one, one.wanted)


def simulated_words(scenario: Scenario, name: str, one: EncounterPlan) -> str:
    """Give what the simulation found of an encounter, as wanted_words counts it."""
    return _value(scenario, name, one, (one.predicted, one.predicted))


def _value(scenario: Scenario, name: str, one: EncounterPlan, value: tuple[float, float]) -> str:
    low, high = value
    body, encounter = scenario.movers[one.of].body, scenario.encounters[name]
    match one.measure:
        case "overlap":
            as_share = isinstance(encounter, Contact) and encounter.overlap is not None
            return (
                f"{100 * body.overlap_of_offset(low):.1f} %"
                if as_share
                else f"{body.own(low):+.3f} m"
            )
        case "side":
            return f"{100 * body.side_of_from_rear(low):.1f} % of length"
        case "distance" | "time gap" | "time to collision" | "time":
            return _range_words(one, low, high)
        case _:
            assert_never(one.measure)


def _range_words(one: EncounterPlan, low: float, high: float) -> str:
    if low == high:
        return f"{one.measure} {quantity(low, one.unit)}"
    if not math.isfinite(high):
        return f"at least {quantity(low, one.unit)}"
    if not math.isfinite(low):
        return f"at most {quantity(high, one.unit)}"
    return f"{quantity(low, one.unit)} .. {quantity(high, one.unit)}"
