"""Distances from bumper to bumper along a lane, at the moments at which a crew can measure them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from itertools import pairwise

import numpy as np

from choreo.geometry import Path, gap_track, lap_of, last_leg_m
from choreo.plans.crew_record import BumperDistance
from choreo.plans.record import Plan
from choreo.scenario import Scenario
from choreo.track.motion import motion_of

# Headings whose difference has a smaller sine, within 30 deg, are of one lane.
ONE_LANE_SINE = 0.5
# Marks that a mover leaves by less than this (m) until a moment are where it still is.
SAME_PLACE_M = 1e-3

Stations = Mapping[str, float]


def distances_of(
    scenario: Scenario, paths: Mapping[str, Path], plan: Plan
) -> tuple[BumperDistance, ...]:
    """Give the distances of pairs that follow one another or meet, at start marks, go, triggers and instants.

    Only pairs of one lane: the one ahead is on the way of the one behind, however it is turned. paths: by mover.
    """
    pairs = _pairs(scenario, plan)
    found = []
    for moment, time_s, stations in _moments(plan):
        for pair in pairs:
            one = _distance(scenario, paths, pair, stations, (moment, time_s))
            if one is not None:
                found.append(one)
    return tuple(found)


def _moments(plan: Plan) -> Iterator[tuple[str, float, Stations]]:
    """Each moment with its time (s after go) and where every mover's reference point is then."""
    motions = {name: motion_of(mover) for name, mover in plan.movers.items()}
    marks = {name: mover.start.station_m for name, mover in plan.movers.items()}
    yield "start marks", 0.0, marks
    times = {f"trigger {name}": one.time_s for name, one in plan.triggers.items()}
    times |= {name: one.time_s for name, one in plan.instants.items()}
    at_go = {name: motion.state(0.0).station_m for name, motion in motions.items()}
    if any(abs(at_go[name] - marks[name]) > SAME_PLACE_M for name in marks):
        yield "go", 0.0, at_go
    for name, time_s in sorted(times.items(), key=lambda one: (round(one[1], 3), one[0])):
        if time_s > 0.0:
            yield name, time_s, {who: one.state(time_s).station_m for who, one in motions.items()}


def _pairs(scenario: Scenario, plan: Plan) -> list[tuple[str, str]]:
    """Who meets, the measuring one first, then who starts next to whom on one path."""
    pairs = [(one.of, one.with_) for one in plan.encounters.values() if one.kind != "pass"]
    by_path: dict[str, list[str]] = {}
    for name in plan.movers:
        path = scenario.movers[name].path
        if path is not None:
            by_path.setdefault(path, []).append(name)
    for names in by_path.values():
        behind_first = sorted(names, key=lambda n: (round(plan.movers[n].start.station_m, 3), n))
        pairs += pairwise(behind_first)
    kept: dict[frozenset[str], tuple[str, str]] = {}
    for pair in pairs:
        kept.setdefault(frozenset(pair), pair)
    return list(kept.values())


def _distance(
    scenario: Scenario,
    paths: Mapping[str, Path],
    pair: tuple[str, str],
    stations: Stations,
    moment: tuple[str, float],
) -> BumperDistance | None:
    """The distance of a pair of one lane, whoever is behind; None where they aren't, or where they overlap along it."""
    for behind, ahead in (pair, pair[::-1]):
        if any(stations[who] < last_leg_m(paths[who]) - SAME_PLACE_M for who in pair):
            return None  # another of its ends leads until it has turned back
        of, with_ = scenario.movers[behind].body, scenario.movers[ahead].body
        end_m = gap_track(paths[behind], of, paths[ahead], with_).at(stations[ahead])[0]
        foot, other = (
            paths[who].pose(np.array([station_m]))
            for who, station_m in ((behind, end_m), (ahead, stations[ahead]))
        )
        along = float(foot.heading_rad[0])
        turned = float(other.heading_rad[0]) - along
        gap_m = end_m - stations[behind] - of.front_m
        lap = lap_of(paths[behind])
        if lap is not None:
            gap_m %= lap
            if gap_m > lap / 2:
                continue
        if abs(math.sin(turned)) >= ONE_LANE_SINE or gap_m < 0.0:
            continue
        head_on = math.cos(turned) < 0.0
        facing_m = with_.front_m if head_on else -with_.rear_m
        x_m = float(other.x_m[0]) + facing_m * math.cos(float(other.heading_rad[0]))
        y_m = float(other.y_m[0]) + facing_m * math.sin(float(other.heading_rad[0]))
        dx_m, dy_m = x_m - float(foot.x_m[0]), y_m - float(foot.y_m[0])
        beside_m = of.own(dy_m * math.cos(along) - dx_m * math.sin(along))
        ends = of.leads, with_.leads if head_on else with_.trails
        return BumperDistance(*moment, behind, ahead, gap_m, beside_m, head_on, ends)
    return None
