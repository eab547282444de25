"""What the page's script needs to know of a plan, as plain data."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np

from choreo.geometry import Path, banks_of, crossing_point
from choreo.ground import Ground
from choreo.page.room_data import ground_data, space_data
from choreo.page.samples import PathSamples, sampled
from choreo.page.spots import spot_data
from choreo.plans.record import EncounterPlan, MoverPlan, Plan, TriggerPlan
from choreo.scenario import Mover, Scenario
from choreo.track.motion import motion_of
from choreo.verification.tolerances import TOLERANCE_SHARE
from choreo.words.display import degrees, quantity
from choreo.words.kinds import CONDITIONS

# Without a plan the first view shows paths this near to what is known.
NEAR_M = 250.0


def embedded(document: Mapping[str, Any]) -> str:
    """Write JSON that may stand inside a script element: no character of it can end the element."""
    text = json.dumps(document, ensure_ascii=True, allow_nan=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def data_of(
    scenario: Scenario, plan: Plan, paths: Mapping[str, Path], ground: Ground | None
) -> dict[str, Any]:
    """Choose and shorten what is drawn. paths: by mover. ground: None where the site draws none."""
    names = list(scenario.movers)
    movers = [mover_data(name, scenario, plan, paths[name]) for name in names]
    ends = [motion_of(mover).end_s for mover in plan.movers.values()]
    ends += [one.time_s for one in plan.encounters.values()]
    return {
        "verdict": plan.verdict,
        "title": plan.title,
        "end": _round(max(ends, default=0.0), 6),
        "movers": movers,
        "triggers": [_trigger(n, one, names) for n, one in plan.triggers.items()],
        "encounters": [
            encounter_data(n, one, names) | {"doubted": _doubted(plan, one)}
            for n, one in plan.encounters.items()
        ]
        or _crossings(scenario, paths, names),
        "instants": [{"name": n, "t": _round(i.time_s, 6)} for n, i in plan.instants.items()],
        "north": _north_rad(scenario),
        "ground": ground_data(ground),
        "space": space_data(scenario, plan, names),
        "look": _look(scenario, plan, paths),
        **spot_data(scenario, plan, paths, ground, names),
    }


def _north_rad(scenario: Scenario) -> float:
    """The site heading of north: that of y, unless the site's anchor says otherwise."""
    anchor = None if scenario.site is None else scenario.site.anchor
    return _round(math.radians(90.0 if anchor is None else anchor.bearing_deg), 6)


def mover_data(name: str, scenario: Scenario, plan: Plan, path: Path) -> dict[str, Any]:
    """Give one mover: body, limits, path as poses, and its motion where the plan has it."""
    mover, planned = scenario.movers[name], plan.movers.get(name)
    low, high = _range_m(mover, planned, path)
    limits = mover.limits
    data: dict[str, Any] = {
        "name": name,
        "kind": mover.kind,
        "corners": [[_round(x, 4), _round(y, 4)] for x, y in mover.body.corners_m],
        "front": _round(mover.body.own(mover.body.nose_m), 4),
        "width": _round(mover.body.width_m, 4),
        # Of a door, from its hinge to its reference point: it is told in degrees.
        "hinge": scenario.turning_radius_m(name),
        # By how much it points elsewhere than its path.
        "turned": _round(mover.body.points_rad, 6),
        "stands": mover.path is None or (planned is not None and not planned.pieces),
        "path": None if mover.path is None else [0.0, _round(path.length_m, 3)],
        "limits": {
            "speed": limits.speed_mps,
            "accel": [[v, a] for v, a in limits.accelerate],
            "brake": limits.brake_mps2,
            "lateral": limits.lateral_mps2 if math.isfinite(limits.lateral_mps2) else None,
        },
        # Where its path is banked: from and to by station, bank in rad, the inside lower.
        "banks": [[_round(a, 3), _round(b, 3), _round(bank, 6)] for a, b, bank in banks_of(path)],
        **_samples(sampled(path, low, high)),
    }
    if planned is None:
        return {**data, "start": _known_start(mover), "phases": [], "pieces": [], "events": []}
    return {**data, **_motion(planned)}


def _range_m(mover: Mover, planned: MoverPlan | None, path: Path) -> tuple[float, float]:
    if mover.path is None:
        return 0.0, 1.0
    stations = [0.0, path.length_m]
    if planned is not None:
        stations.append(planned.start.station_m)
        stations += [event.station_m for event in planned.events]
    return min(stations), max(stations)


def _known_start(mover: Mover) -> list[float] | None:
    """Station and speed of a start that the author fixed, or None."""
    if mover.path is None:
        return [0.0, 0.0]
    station = mover.start.station
    return [station.lo, mover.start.speed_mps] if station.fixed else None


def _motion(planned: MoverPlan) -> dict[str, Any]:
    phases = list(dict.fromkeys(piece.phase for piece in planned.pieces))
    runway = planned.runway
    return {
        "start": [planned.start.station_m, planned.start.speed_mps],
        "launch": planned.launch_s,
        "by": planned.launched_by,
        "phases": phases,
        "pieces": [
            [
                p.start_s, p.duration_s, p.station_m, p.speed_mps, p.accel_mps2, p.jerk_mps3,
                phases.index(p.phase),
            ]
            for p in planned.pieces
        ],
        "events": [[_round(e.time_s, 6), e.name, e.kind] for e in planned.events],
        "runway": [runway.run_up_m, runway.encounter_m, runway.run_out_m],
        "peak": planned.peak.speed_mps,
        "mark": f"{degrees(planned.start.heading_deg)} deg",
    }  # fmt: skip


def _samples(samples: PathSamples) -> dict[str, list[float]]:
    return {
        "s": _rounded(samples.s_m, 4),
        "x": _rounded(samples.x_m, 4),
        "y": _rounded(samples.y_m, 4),
        "h": _rounded(samples.heading_rad, 6),
        "turns": _rounded(np.array(samples.turns_m), 4),
    }


def _trigger(name: str, one: TriggerPlan, names: list[str]) -> dict[str, Any]:
    return {
        "name": name,
        "watch": names.index(one.watch),
        "s": one.station_m,
        "t": _round(one.time_s, 6),
        "acts": _round(one.acts_at_s, 6),
        "on": [names.index(mover) for mover in one.acts_on],
        "setting": f"{one.condition} {quantity(one.setting, one.setting_unit)}{_to_mover(one)}",
    }


def _to_mover(one: TriggerPlan) -> str:
    """To whom a gap is; encounters that are counted down to are marked themselves."""
    return f" to {one.to}" if CONDITIONS[one.condition].to_mover else ""


def encounter_data(name: str, one: EncounterPlan, names: list[str]) -> dict[str, Any]:
    """Give one encounter, its movers by their place among names."""
    return {
        "name": name,
        "kind": one.kind,
        "of": names.index(one.of),
        "with": names.index(one.with_),
        "t": _round(one.time_s, 6),
        "s_of": one.station_of_m,
        "s_with": one.station_with_m,
        "place": None if one.place is None else [_round(one.place[0], 4), _round(one.place[1], 4)],
    }


def _doubted(plan: Plan, one: EncounterPlan) -> bool:
    """Whether the simulation finds an encounter further off than it may be."""
    check = plan.verification
    return check is not None and not check.agrees and one.off > TOLERANCE_SHARE * one.tolerance


def _crossings(
    scenario: Scenario, paths: Mapping[str, Path], names: list[str]
) -> list[dict[str, Any]]:
    """Where the paths of an encounter cross, for a page that has no plan to show."""
    found = []
    for name, one in scenario.encounters.items():
        crossing = crossing_point(paths[one.of], paths[one.with_])
        if crossing is None:
            continue
        (place,) = _points(paths[one.of], [crossing[0]])
        pair = {"of": names.index(one.of), "with": names.index(one.with_)}
        found.append({"name": name, "kind": "crossing", **pair, "t": None, "place": place})
    return found


def _look(scenario: Scenario, plan: Plan, paths: Mapping[str, Path]) -> list[list[float]]:
    """Points that the first view must show where no motion says it: fixed starts and crossings."""
    if plan.movers:
        return []
    places = []
    for name, mover in scenario.movers.items():
        known = _known_start(mover)
        if known is not None:
            places += _points(paths[name], [known[0]])
    for budget in plan.budgets:
        if budget.lacks_m is not None and budget.mover in paths:
            places += _points(paths[budget.mover], list(budget.lacks_m))
    for one in scenario.encounters.values():
        crossing = crossing_point(paths[one.of], paths[one.with_])
        if crossing is not None:
            places += _points(paths[one.of], [crossing[0]])
    near = []
    for path in paths.values():
        for x, y in _points(path, list(np.linspace(0.0, path.length_m, 100))):
            if not places or any(math.hypot(x - p, y - q) < NEAR_M for p, q in places):
                near.append([x, y])
    return [*places, *near[:: max(1, len(near) // 50)]]


def _points(path: Path, stations: list[float]) -> list[list[float]]:
    poses = path.pose(np.array(stations))
    return [[_round(x, 2), _round(y, 2)] for x, y in zip(poses.x_m, poses.y_m, strict=True)]


def _rounded(values: Iterable[float], digits: int) -> list[float]:
    return [_round(value, digits) for value in values]


def _round(value: float, digits: int) -> float:
    rounded = round(float(value), digits)
    return 0.0 if rounded == 0 else rounded
