"""Where a plan must not be run, and where what is missing would lie: places on the plan view, with their moments."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from choreo.geometry import Path
from choreo.ground import Ground
from choreo.ground.outlines import Corner, nearest_of, outside_of
from choreo.page.room_data import MILLIMETRE, Rings, polygons_of
from choreo.plans.record import Plan
from choreo.plans.room_record import FailsafeStop, SpacePlan
from choreo.scenario import Scenario
from choreo.track.motion import PlannedMotion, motion_of
from choreo.words import Finding
from choreo.words.display import metres
from choreo.words.records import dataclass

# Stops are looked at from moments so far apart (s), and at so many places each.
EVERY_S, PLACES = 0.1, 13
# A stop reaches a place where its body comes this near (m): the sweep that a check looks at is never too small.
REACHES_M = 0.05

Pose = tuple[float, float, float]
# How near a stop comes (m), when it begins (s), the mover's body there, and the point that it comes nearest to.
Reached = tuple[float, float, tuple[str, Pose], Corner]


@dataclass(frozen=True, slots=True)
class Spot:
    """A place that forbids a run. t_s: the moment, None where there is none. body: mover and pose (m, m, rad) there."""

    words: str
    at_m: tuple[float, float]
    t_s: float | None = None
    body: tuple[str, Pose] | None = None


def spots_of(scenario: Scenario, plan: Plan, paths: Mapping[str, Path]) -> list[Spot | None]:
    """Give the place of each failed check of a plan, in their order; None where it has no place."""
    space = plan.space
    if space is None:
        return []
    known = dict(_known(scenario, plan, paths, space))
    return [known.get(one.text) for one in space.failures]


def _known(
    scenario: Scenario, plan: Plan, paths: Mapping[str, Path], space: SpacePlan
) -> Iterator[tuple[str, Spot]]:
    """Places by the words of the checks that they are of."""
    for one in space.failures:
        if one.code == "space.leaves-site" and space.site is not None:
            at = (space.site.x_m, space.site.y_m)
            reached = [
                found
                for name in space.stops
                if (found := _reaching(scenario, plan, paths, name, [at]))
            ]
            first = min(reached, key=lambda found: (found[0] > REACHES_M, found[1]), default=None)
            yield one.text, Spot("off the drivable ground", at, *_moment(first))
    for name in space.stops:
        for other in plan.movers:
            values = {"mover": name, "other": other}
            text = Finding("space.stop-touches", "error", None, values).text
            if any(one.text == text for one in space.failures):
                body = _placed(
                    scenario, other, _pose(paths[other], plan.movers[other].start.station_m)
                )
                found = _reaching(scenario, plan, paths, name, body)
                place = body[0] if found is None else found[3]
                yield text, Spot(f"a stop may touch {other}", place, *_moment(found))
        text = Finding("space.no-stop", "error", None, {"mover": name}).text
        start = plan.movers[name].start
        yield text, Spot(f"{name} may not be able to stop", (start.x_m, start.y_m))
    for cone in space.cones:
        here = f"{cone.mover} touches the cone `{cone.name}` of {cone.path} "
        for one in space.failures:
            if one.code == "space.cone-touched" and one.text.startswith(here):
                when = _passes(motion_of(plan.movers[cone.mover]), cone.station_m)
                yield one.text, Spot(f"touches {cone.name}", (cone.x_m, cone.y_m), when)
    for sight in space.sights:
        for one in space.failures:
            if one.code.startswith("space.sight-") and sight.name in one.text:
                t_s = sight.first_s or 0.0
                station = motion_of(plan.movers[sight.to]).state(t_s).station_m
                x, y, _ = _pose(paths[sight.to], station)
                yield one.text, Spot(sight.name, (x, y), t_s)


def _moment(found: Reached | None) -> tuple[Any, Any]:
    return (None, None) if found is None else (found[1], found[2])


def _reaching(
    scenario: Scenario, plan: Plan, paths: Mapping[str, Path], name: str, aim: list[Corner]
) -> Reached | None:
    """Find the first moment from which a mover's stop, along its path or straight on, reaches a place.

    Gives how near it comes (m), when the stop begins (s), the body there and the point of it; the nearest where
    none reaches it. None for one that never moves.
    """
    motion, stop = motion_of(plan.movers[name]), plan.space.stops[name] if plan.space else None
    if stop is None or not motion.moves:
        return None
    best = None
    for t_s in np.arange(0.0, motion.end_s + EVERY_S, EVERY_S):
        for pose in _stopping(paths[name], motion, stop, float(t_s)):
            near_m, point = nearest_of(_placed(scenario, name, pose), aim)
            if best is None or near_m < best[0]:
                best = (near_m, float(t_s), (name, pose), point)
            if near_m <= REACHES_M:
                return best
    return best


def _stopping(path: Path, motion: PlannedMotion, stop: FailsafeStop, t_s: float) -> Iterator[Pose]:
    """Poses of a stop begun at a moment: along the path, and straight on from where it begins."""
    begin, after = motion.state(t_s), motion.state(t_s + stop.reaction_s)
    speed = max(begin.speed_mps, after.speed_mps)
    going = max(after.station_m - begin.station_m, begin.speed_mps * stop.reaction_s)
    way = going + speed**2 / (2.0 * max(stop.brake_mps2, 1e-3))
    x, y, heading = _pose(path, begin.station_m)
    for share in np.linspace(0.0, 1.0, PLACES):
        yield _pose(path, begin.station_m + share * way)
        yield x + share * way * math.cos(heading), y + share * way * math.sin(heading), heading


def _pose(path: Path, station_m: float) -> Pose:
    at = path.pose(np.array([station_m]))
    return float(at.x_m[0]), float(at.y_m[0]), float(at.heading_rad[0])


def _placed(scenario: Scenario, name: str, pose: Pose) -> list[Corner]:
    """Corners of a body in site m."""
    x, y, heading = pose
    c, s = math.cos(heading), math.sin(heading)
    corners = scenario.movers[name].body.corners_m
    return [(x + c * a - s * b, y + s * a + c * b) for a, b in corners]


def _passes(motion: PlannedMotion, station_m: float) -> float:
    """When a mover comes to a station, to a hundredth of a second."""
    times = np.arange(0.0, motion.end_s + 0.01, 0.01)
    stations, _ = motion.states(times)
    return float(times[int(np.argmin(np.abs(stations - station_m)))])


def spot_data(
    scenario: Scenario,
    plan: Plan,
    paths: Mapping[str, Path],
    ground: Ground | None,
    names: Sequence[str],
) -> dict[str, Any]:
    """Give for the script where checks failed, what of the zone is off the ground, and what way is missing."""
    return {
        "spots": [
            None
            if one is None
            else {
                "words": one.words,
                "at": [round(v, MILLIMETRE) for v in one.at_m],
                "t": None if one.t_s is None else round(one.t_s, 6),
                "mover": -1 if one.body is None else names.index(one.body[0]),
                "pose": None if one.body is None else [round(v, 4) for v in one.body[1]],
            }
            for one in spots_of(scenario, plan, paths)
        ],
        "outside": _outside(plan, ground),
        "lacks": [
            {
                "budget": k,
                "mover": names.index(one.mover),
                "from": round(one.lacks_m[0], MILLIMETRE),
                "to": round(one.lacks_m[1], MILLIMETRE),
                "words": f"{metres(one.short_by)} missing",
            }
            for k, one in enumerate(plan.budgets)
            if one.lacks_m is not None and one.mover in names
        ],
    }


def _outside(plan: Plan, ground: Ground | None) -> list[Rings]:
    """What of the keep-out zone is off the drivable ground, where that forbids the run."""
    space = plan.space
    left = space is not None and any(one.code == "space.leaves-site" for one in space.failures)
    if not left or ground is None or space is None or space.keep_out is None:
        return []
    off = outside_of(ground, space.keep_out.polygons)
    return [] if off is None else polygons_of(off)
