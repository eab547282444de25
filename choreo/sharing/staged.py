"""Staged runs on a shared site: a planned scenario keeps its zone for itself as long as one of its runs lasts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path as File

import numpy as np
import shapely
from numpy.typing import NDArray

from choreo.case import Answer, whole_answer
from choreo.circuits.lap import Lap
from choreo.circuits.records import VEHICLE
from choreo.scenario import load
from choreo.sharing.driving import Course, Table
from choreo.sharing.jobs import Moment, Use
from choreo.words.records import dataclass

# Ways of a lap are looked at this often (m): its body reaches half of it farther than it does.
LOOK_M = 1.0
# How places begin that stand for what zones have in common.
COMMON = "zones of "


@dataclass(frozen=True, eq=False)
class Staged:
    """A staged test. zone: its keep-out zone in the site frame, m; lasts_s: of one run, from go until all rest."""

    name: str
    answer: Answer
    zone: shapely.Geometry
    lasts_s: float

    @property
    def place(self) -> str:
        """What its zone is called."""
        return zone_of(self.name)

    @property
    def sources(self) -> tuple[str, ...]:
        return self.answer.case.scenario.source_files


def zone_of(name: str) -> str:
    """Give the name of a test's zone as a place."""
    return f"zone of {name}"


def staged_of(name: str, file: File) -> Staged | str:
    """Plan a staged test; in words why it has no zone where it has none.

    Raises ChoreoError: faults of its file.
    """
    answer = whole_answer(load(file))
    plan = answer.plan
    if plan.verdict != "feasible":
        return f"its plan is {plan.verdict}"
    if plan.space is None or plan.space.keep_out is None:
        return "its plan has no keep-out zone"
    polygons = [shapely.Polygon(one[0], one[1:]) for one in plan.space.keep_out.polygons]
    ends = max(
        one.pieces[-1].start_s + one.pieces[-1].duration_s
        for one in plan.movers.values()
        if one.pieces
    )
    return Staged(name, answer, shapely.union_all(polygons), ends)


def uses_of(course: Course, staged: Sequence[Staged]) -> Iterator[Use]:
    """Give when a vehicle on its circuit is in the zones of staged tests."""
    known: dict[tuple[int, str], list[tuple[float, float]]] = {}
    for leg, start, tables in course.laps:
        lap = tables[0].lap
        places = [(leg + n, start if n == 0 else 0.0, one) for n, one in enumerate(tables)]
        for one in staged:
            if (id(lap), one.name) not in known:
                known[id(lap), one.name] = list(_inside(lap, one))
            for low, high in known[id(lap), one.name]:
                yield Use(one.place, _enters(places, low), _leaves(places, high), passing=True)


def _inside(lap: Lap, staged: Staged) -> Iterator[tuple[float, float]]:
    """Ways of a lap, in m, between which its body may be in a zone."""
    corners = lap.answer.case.scenario.movers[VEHICLE].body.corners_m
    reach = max(float(np.hypot(*one)) for one in corners) + LOOK_M / 2
    ways = np.linspace(0.0, lap.length_m, max(int(lap.length_m / LOOK_M), 1) + 1)
    pose = lap.answer.paths[VEHICLE].pose(ways)
    near = shapely.dwithin(shapely.points(pose.x_m, pose.y_m), staged.zone, reach)
    edges = np.flatnonzero(np.diff(np.concatenate(([False], near, [False])).astype(int)))
    for first, last in zip(edges[::2], edges[1::2] - 1, strict=True):
        yield float(ways[max(first - 1, 0)]), float(ways[min(last + 1, len(ways) - 1)])


def _enters(places: Sequence[tuple[int, float, Table]], way_m: float) -> Moment:
    leg, start, table = next(one for one in places if way_m <= one[2].end_m + 1e-6)
    return leg, start + float(table.time(np.array([way_m]))[0])


def _leaves(places: Sequence[tuple[int, float, Table]], way_m: float) -> Moment:
    # Who stands where a zone ends is in it until it drives on.
    within = [one for one in places if way_m < one[2].end_m - 1e-6]
    leg, start, table = within[0] if within else places[-1]
    return leg, start + float(table.leaves(np.array([min(way_m, table.end_m)]))[0])


def runs_of(
    staged: Staged, runs: int, between_s: float, places: Sequence[str], *, waits: bool
) -> tuple[tuple[float, ...], tuple[Use, ...]]:
    """Give the runs as segments, or as one where it doesn't wait; places: what each of them takes besides its zone."""
    lasts, uses = [], []
    for number in range(runs):
        segment = number if waits else 0
        begins = 0.0 if waits else number * (staged.lasts_s + between_s)
        for place in (staged.place, *places):
            uses.append(Use(place, (segment, begins), (segment, begins + staged.lasts_s)))
        lasts.append(staged.lasts_s + (between_s if number < runs - 1 else 0.0))
    return (tuple(lasts) if waits else (sum(lasts),)), tuple(uses)


def overlaps(staged: Sequence[Staged]) -> dict[str, list[str]]:
    """Give for each the places that stand for what its zone has in common with others'."""
    found: dict[str, list[str]] = {one.name: [] for one in staged}
    for index, one in enumerate(staged):
        for other in staged[index + 1 :]:
            if one.zone.intersects(other.zone):
                place = f"{COMMON}{one.name} and {other.name}"
                found[one.name].append(place)
                found[other.name].append(place)
    return found


def touched(lap: Lap, ways_m: NDArray[np.float64], staged: Staged) -> NDArray[np.bool_]:
    """Tell at which ways in m the body itself is in a zone."""
    corners = np.array(lap.answer.case.scenario.movers[VEHICLE].body.corners_m)
    pose = lap.answer.paths[VEHICLE].pose(ways_m)
    cos, sin = np.cos(pose.heading_rad)[:, None], np.sin(pose.heading_rad)[:, None]
    x = pose.x_m[:, None] + cos * corners[:, 0] - sin * corners[:, 1]
    y = pose.y_m[:, None] + sin * corners[:, 0] + cos * corners[:, 1]
    bodies = shapely.polygons(np.stack((x, y), axis=-1))
    return np.asarray(shapely.intersects(bodies, staged.zone))
