"""What is reported about sight lines: missed, never seen, seen and hidden again."""

from __future__ import annotations

import math
from collections.abc import Sequence

from choreo.plans.room_record import SightPlan
from choreo.scenario import Scenario
from choreo.words import Finding


def sight_findings(scenario: Scenario, sights: Sequence[SightPlan]) -> tuple[Finding, ...]:
    """Give the findings on sights: an error for a wanted value that is missed, warnings for the rest."""
    return tuple(one for sight in sights for one in _findings(scenario, sight))


def _findings(scenario: Scenario, sight: SightPlan) -> list[Finding]:
    found = []
    values = {
        "name": sight.name,
        "seer": sight.from_,
        "target": sight.to,
        "share": f"{sight.share * 100:g} %",
    }
    if sight.within is False:
        place = scenario.origin("sights", sight.name, "first seen at")
        missed = {
            **values,
            "seen": _seen(sight),
            "wanted": _wanted(sight),
            "advice": _advice(scenario, sight),
        }
        found.append(Finding("space.sight-missed", "error", place, missed, ()))
    place = scenario.origin("sights", sight.name)
    if sight.first_s is None and sight.within is None:
        found.append(Finding("space.sight-never", "warning", place, values, ()))
    if sight.first_s is not None and not sight.stays:
        spans = ", ".join(f"{begin:.2f}..{end:.2f} s" for begin, end in sight.episodes)
        found.append(
            Finding("space.sight-glimpse", "warning", place, {**values, "episodes": spans}, ())
        )
    return found


def _seen(sight: SightPlan) -> str:
    if sight.to_collision_s is None:
        return "never seen"
    return f"first seen {sight.to_collision_s:.3f} s before the contact"


def _wanted(sight: SightPlan) -> str:
    return f"{sight.wanted_s or 0.0:g} s +/- {sight.tolerance_s or 0.0:g} s"


def _advice(scenario: Scenario, sight: SightPlan) -> str:
    """Where to put which obstacle; what else to do where no place helps."""
    return _earlier(sight) + _moved(scenario, sight)


def _earlier(sight: SightPlan) -> str:
    """That what is first seen is hidden again later: past which time it has to be hidden."""
    if len(sight.episodes) < 2:
        return ""
    begin, end = sight.episodes[0]
    return (
        f"It is seen from {begin:.2f} to {end:.2f} s already, beside what hides it later: a longer or a nearer "
        "obstacle hides it there too. "
    )


def _moved(scenario: Scenario, sight: SightPlan) -> str:
    if sight.helps is not None:
        name, move_m = sight.helps
        stand = scenario.movers[name].stand
        way = f"{abs(move_m):.3f} m {'forward' if move_m > 0 else 'back'}"
        if stand is None:
            return f"Move {name} {way} along its heading."
        along = _unit(stand[2])
        x, y = stand[0] + move_m * along[0], stand[1] + move_m * along[1]
        return f"Move {name} {way}: `stand: {{at: [{x:.3f} m, {y:.3f} m], ...}}`."
    if sight.moving is not None:
        within_m = scenario.sights[sight.name].within_m
        return (
            f"No free place of {sight.moving} up to {within_m:g} m along its heading gives this: raise "
            "`within`, move another thing, or ask for another time."
        )
    return "No standing mover gives this by a move along its heading: ask for another time, or add one."


def _unit(heading_rad: float) -> tuple[float, float]:
    return math.cos(heading_rad), math.sin(heading_rad)
