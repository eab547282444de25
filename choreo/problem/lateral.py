"""Lateral accelerations as goals: of a ramp the speed that has it on a path, of a hold the place that has it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

from choreo.geometry import Path
from choreo.geometry.poses import Stretch
from choreo.problem.curve import counted_stretches
from choreo.scenario import Mover, Phase, Scenario, Span
from choreo.scenario.records.edits import with_each_mover
from choreo.words import ChoreoError, Finding
from choreo.words.display import short_kmh
from choreo.words.kinds import PHASES
from choreo.words.origin import Origin
from choreo.words.quantities import quoted

# A path is straight where no radius is smaller than this (m).
STRAIGHT_M = 1e6
# Curvatures that differ by less than this share are the same.
SAME_RATIO = 1e-9


def with_lateral_goals(scenario: Scenario, paths: Mapping[str, Path]) -> Scenario:
    """Give the scenario with a speed wherever its author wrote a lateral acceleration, from curvature: sqrt(a R).

    paths: by mover. Raises ChoreoError: no curve there, a goal over the mover's lateral limit or top speed.
    """
    found: list[Finding] = []

    def driven(name: str, mover: Mover) -> Mover:
        phases: list[Phase] = []
        speed = Span.at(mover.start.speed_mps)
        for index, phase in enumerate(mover.programme):
            if phase.lateral_mps2 is not None:
                phase = _driven(name, mover, index, phase)
            elif phase.until_lateral_mps2 is not None:
                phase = _held(name, mover, index, phase, speed)
            phases.append(phase)
            speed = phase.to if PHASES[phase.kind].changes_speed else speed
        return replace(mover, programme=tuple(phases))

    def _held(name: str, mover: Mover, index: int, phase: Phase, speed: Span) -> Phase:
        """A hold that ends where the curve has come to a lateral acceleration, which its speed says."""
        place = ("movers", name, "programme", index, "hold", "until")
        goal, limit = phase.until_lateral_mps2 or 0.0, mover.limits.lateral_mps2
        origin = scenario.origin(*place)
        if goal > limit:
            found.append(_over(scenario, name, "until", goal, limit, origin))
            return phase
        wrong, instead = "", ""
        station = None
        if not speed.fixed or speed.lo <= 0.0:
            wrong = "the place depends on the speed of the hold, which is left open"
            instead = "Give the ramp before it one speed."
        elif name in paths:
            start = mover.start.station
            from_m = max(start.lo, 0.0) if math.isfinite(start.lo) else 0.0
            bend = goal / speed.lo**2
            station = _reached_m(counted_stretches(paths[name], goal), bend, from_m)
            if station is None:
                most = _tightest_per_m(paths[name], None, goal) * speed.lo**2
                wrong = (
                    f"at {short_kmh(speed.lo)} its path has {most:.4g} m/s2 at most after its start"
                )
                instead = "Write less, or a higher speed before it."
        if wrong:
            values: dict[str, str | float] = {
                "where": f"{name} > hold > until",
                "what": wrong,
                "instead": instead,
            }
            found.append(Finding("scenario.bad-value", "error", origin, values, ()))
        return replace(phase, ends_m=station)

    def _driven(name: str, mover: Mover, index: int, phase: Phase) -> Phase:
        place = ("movers", name, "programme", index, "ramp", "to")
        goal = phase.lateral_mps2 or 0.0
        bend = _tightest_per_m(paths[name], phase.lateral_on, goal) if name in paths else 0.0
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
            found.append(_over(scenario, name, "to", goal, limits.lateral_mps2, origin))
        elif speed > limits.speed_mps:
            values = {
                "mover": name,
                "wanted": short_kmh(speed),
                "limit": short_kmh(limits.speed_mps),
            }
            limit = scenario.origin("movers", name, "limits", "speed")
            found.append(Finding("scenario.too-fast", "error", origin, values, (limit,)))
        return replace(phase, to=Span.at(speed), lateral_mps2=None, lateral_on=None)

    phases = [phase for mover in scenario.movers.values() for phase in mover.programme]
    if all((one.lateral_mps2, one.until_lateral_mps2) == (None, None) for one in phases):
        return scenario
    changed = with_each_mover(scenario, driven)
    if found:
        raise ChoreoError(tuple(found))
    return with_each_mover(changed, lambda _name, mover: _following(changed, mover))


def _over(
    scenario: Scenario, name: str, key: str, goal: float, limit: float, origin: Origin | None
) -> Finding:
    values = {
        "mover": name,
        "key": key,
        "limited": "lateral",
        "wanted": f"{goal:.4g} m/s2 lateral",
        "limit": f"{limit:.4g} m/s2 sideways",
    }
    place = scenario.origin("movers", name, "limits", "lateral")
    return Finding("scenario.rate-over-limit", "error", origin, values, (place,))


def _reached_m(stretches: tuple[Stretch, ...], bend_per_m: float, from_m: float) -> float | None:
    """The first station in m from from_m on at which |curvature| is so much, in 1/m; None where it nowhere is."""
    for start, end, k0, k1 in stretches:
        if end < from_m or end <= start:
            continue
        rate = (k1 - k0) / (end - start)
        first = max(start, from_m)
        begins, ends = k0 + rate * (first - start), k1
        if abs(begins) >= bend_per_m * (1.0 - SAME_RATIO):
            return first
        if abs(ends) >= bend_per_m * (1.0 - SAME_RATIO):
            wanted = math.copysign(min(bend_per_m, abs(ends)), ends)
            return first + (wanted - begins) / rate
    return None


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


def _tightest_per_m(path: Path, piece: str | None, lateral_mps2: float) -> float:
    """The largest |curvature| of a path, or of one of its named pieces, in 1/m, as it counts against a limit."""
    low, high = (0.0, path.length_m) if piece is None else path.marks[piece]
    worst = 0.0
    for start, end, k0, k1 in counted_stretches(path, lateral_mps2):
        first, last = max(start, low), min(end, high)
        if last > first:
            rate = (k1 - k0) / (end - start)
            ends = (k0 + rate * (first - start), k0 + rate * (last - start))
            worst = max(worst, *(abs(one) for one in ends))
    return worst
