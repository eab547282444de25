"""Ramps to a lateral acceleration -> ramps to the speed that has it on the tightest place of the path."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

from choreo.geometry import Path
from choreo.scenario import Mover, Phase, Scenario, Span
from choreo.scenario.records.edits import with_each_mover
from choreo.words import ChoreoError, Finding
from choreo.words.display import short_kmh
from choreo.words.quantities import quoted

# A path is straight where no radius is smaller than this (m).
STRAIGHT_M = 1e6


def with_lateral_goals(scenario: Scenario, paths: Mapping[str, Path]) -> Scenario:
    """Give the scenario with a speed wherever its author wrote a lateral acceleration, from curvature: sqrt(a R).

    paths: by mover. Raises ChoreoError: no curve there, a goal over the mover's lateral limit or top speed.
    """
    found: list[Finding] = []

    def driven(name: str, mover: Mover) -> Mover:
        phases = tuple(
            phase if phase.lateral_mps2 is None else _driven(name, mover, index, phase)
            for index, phase in enumerate(mover.programme)
        )
        return replace(mover, programme=phases)

    def _driven(name: str, mover: Mover, index: int, phase: Phase) -> Phase:
        place = ("movers", name, "programme", index, "ramp", "to")
        goal = phase.lateral_mps2 or 0.0
        bend = _tightest_per_m(paths[name], phase.lateral_on) if name in paths else 0.0
        speed = math.sqrt(goal / bend) if bend > 1.0 / STRAIGHT_M else math.inf
        origin = scenario.origin(*place)
        limits = mover.limits
        if math.isinf(speed):
            what = f"piece `{quoted(phase.lateral_on)}`" if phase.lateral_on else "its path"
            values: dict[str, str | float] = {
                "where": f"{name} > ramp > to",
                "what": f"there is no lateral acceleration on {what}, which has no curve",
                "instead": "Write a speed, or `on:` with the name of a piece that curves.",
            }
            found.append(Finding("scenario.bad-value", "error", origin, values, ()))
        elif goal > limits.lateral_mps2:
            values = {
                "mover": name,
                "key": "lateral",
                "wanted": f"{goal:.4g} m/s2",
                "limit": f"{limits.lateral_mps2:.4g} m/s2",
            }
            limit = scenario.origin("movers", name, "limits", "lateral")
            found.append(Finding("scenario.rate-over-limit", "error", origin, values, (limit,)))
        elif speed > limits.speed_mps:
            values = {
                "mover": name,
                "wanted": short_kmh(speed),
                "limit": short_kmh(limits.speed_mps),
            }
            limit = scenario.origin("movers", name, "limits", "speed")
            found.append(Finding("scenario.too-fast", "error", origin, values, (limit,)))
        return replace(phase, to=Span.at(speed), lateral_mps2=None, lateral_on=None)

    if all(phase.lateral_mps2 is None for m in scenario.movers.values() for phase in m.programme):
        return scenario
    changed = with_each_mover(scenario, driven)
    if found:
        raise ChoreoError(tuple(found))
    return with_each_mover(changed, lambda _name, mover: _following(changed, mover))


def _following(scenario: Scenario, mover: Mover) -> Mover:
    """Who follows goes at the speed of the ramp that it follows."""
    phases = []
    for phase in mover.programme:
        if phase.follows is not None:
            lead, ramp = phase.follows
            programme = scenario.movers[lead].programme
            phase = replace(phase, to=next(one.to for one in programme if one.name == ramp))
        phases.append(phase)
    return replace(mover, programme=tuple(phases))


def _tightest_per_m(path: Path, piece: str | None) -> float:
    """The largest |curvature| of a path, or of one of its named pieces, in 1/m."""
    low, high = (0.0, path.length_m) if piece is None else path.marks[piece]
    worst = 0.0
    for start, end, k0, k1 in path.stretches():
        first, last = max(start, low), min(end, high)
        if last > first:
            rate = (k1 - k0) / (end - start)
            ends = (k0 + rate * (first - start), k0 + rate * (last - start))
            worst = max(worst, *(abs(one) for one in ends))
    return worst
