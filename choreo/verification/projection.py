"""Bumper to bumper along a path: the other's facing end projected on the path of the one who measures."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from choreo.geometry import Path, cusps_of, lap_of, ways_along
from choreo.scenario import Body
from choreo.verification.bends import bends_of
from choreo.verification.integration import evenly
from choreo.words.records import dataclass

Array = NDArray[np.float64]

# Samples of a path are no farther apart than this (m), than so much of its tightest radius, and than it takes for so
# many: so near to the nearest station the feet of normals, each of which leaves the square of what is missing over the
# radius, lead to it.
SAMPLE_M, SAMPLE_RATIO = 1.0, 0.2
LEAST_SAMPLES, MOST_SAMPLES = 401, 20_001
FEET, FOOT_M = 8, 1e-10
# Samples of so many paths are kept: variants of a scenario have the same ones.
SAME_PATHS = 64
# Where both are on one path the search goes so far (m) beyond the other's body.
PASS_M = 1.0


@dataclass(frozen=True, slots=True)
class GapState:
    """Room ahead of the measuring mover's front in m and how fast it shrinks in m/s, along its path."""

    gap_m: float
    closing_mps: float


def gap_state(
    path: Path,
    body: Body,
    state: tuple[float, float],
    other_path: Path,
    other_body: Body,
    other_state: tuple[float, float],
    *,
    one_path: bool | None = None,
) -> GapState:
    """Measure the gap along `path` to the end of the other body that faces the measuring mover.

    state, other_state: station in m and speed in m/s of each. The facing end is the rear of one
    that goes the same way, the front of one that comes towards. one_path: whether both follow one path; as the paths
    themselves say where it isn't told. On a closed path the gap is some lap's: see of_laps_m.
    """
    there_x, there_y, heading, bend = other_path.pose_at(other_state[0])
    # Compared where the other is, not where the measuring one is: a bend may lie between them.
    span = None
    lap = lap_of(path)
    if lap is not None:
        span = (state[0], state[0] + lap)
    elif path is other_path if one_path is None else one_path:
        # One path may pass a place several times: the pass is that of the other's own station.
        reach = other_body.front_m + other_body.rear_m + PASS_M
        span = (other_state[0] - reach, other_state[0] + reach)
    beside = nearest_station_m(path, there_x, there_y, around_m=state[0], span_m=span)
    same_way = math.cos(heading - path.pose_at(beside)[2]) >= 0.0
    ahead = -other_body.rear_m if same_way else other_body.front_m
    x, y = there_x + ahead * math.cos(heading), there_y + ahead * math.sin(heading)
    station = nearest_station_m(path, x, y, around_m=state[0], span_m=span)
    foot_x, foot_y, along, own_bend = path.pose_at(station)
    # Velocity of a rigid body's point: forward speed, and sideways by its turning.
    turning = bend * ahead
    speed_along = other_state[1] * (math.cos(heading - along) - turning * math.sin(heading - along))
    left = -(x - foot_x) * math.sin(along) + (y - foot_y) * math.cos(along)
    stretch = 1.0 - left * own_bend
    return GapState(station - state[0] - body.front_m, state[1] - speed_along / stretch)


def of_laps_m(path: Path, gap_m: float, wanted_m: float) -> float:
    """Give the gap in m that is nearest to a wanted one, of those that differ by laps of a closed path."""
    lap = lap_of(path)
    return gap_m if lap is None else gap_m + lap * round((wanted_m - gap_m) / lap)


def nearest_station_m(
    path: Path,
    x_m: float,
    y_m: float,
    *,
    around_m: float,
    span_m: tuple[float, float] | None = None,
) -> float:
    """Give the station in m of the path nearest to a point, by search on samples and the foot of the normal.

    around_m: a station on the path, of a closed one. span_m: search between these stations only; else all along the
    path and what lies straight beyond its ends.
    """
    cusps = cusps_of(path)
    if bends_of(path) is None and not cusps:
        ahead, _, _ = _seen(path, around_m, x_m, y_m)
        station = around_m + ahead
        return station if span_m is None else min(max(station, span_m[0]), span_m[1])
    if cusps and span_m is None:
        x, y, _, _ = path.pose_at(around_m)
        away = math.hypot(x_m - x, y_m - y)
        span_m = min(0.0, around_m) - away, max(path.length_m, around_m) + away
    if span_m is None:
        station, away = _all_along(path).nearest(x_m, y_m)
        for end_m, way in ((0.0, -1.0), (path.length_m, 1.0)):
            ahead, left, _ = _seen(path, end_m, x_m, y_m)
            if way * ahead > 0.0 and abs(left) < away:
                station, away = end_m + ahead, abs(left)
    else:
        station, _ = _samples(path, *span_m).nearest(x_m, y_m)
    for _ in range(FEET):
        ahead, left, bend = _seen(path, station, x_m, y_m)
        # A path with changes of direction has legs that go against their heading.
        way = float(ways_along(path, np.array([station]))[0]) if cusps else 1.0
        station += way * ahead / (1.0 - left * bend)
        if abs(ahead) < FOOT_M:
            break
    return station


def _seen(path: Path, station_m: float, x_m: float, y_m: float) -> tuple[float, float, float]:
    """How far ahead and left of a place of the path a point is in m, and the curvature there in 1/m."""
    x, y, heading, bend = path.pose_at(station_m)
    dx, dy, cos, sin = x_m - x, y_m - y, math.cos(heading), math.sin(heading)
    return dx * cos + dy * sin, dy * cos - dx * sin, bend


@dataclass(frozen=True, slots=True, eq=False)
class Samples:
    """Stations of a path in m and where they are, shape (n,)."""

    stations_m: Array
    x_m: Array
    y_m: Array

    def nearest(self, x_m: float, y_m: float) -> tuple[float, float]:
        """Give the station that is nearest to a point, and how far that is, in m."""
        dx, dy = self.x_m - x_m, self.y_m - y_m
        squares = dx * dx + dy * dy
        best = int(squares.argmin())
        return float(self.stations_m[best]), math.sqrt(squares[best])


@lru_cache(maxsize=SAME_PATHS)
def _all_along(path: Path) -> Samples:
    return _samples(path, 0.0, path.length_m)


def _samples(path: Path, low_m: float, high_m: float) -> Samples:
    bends = bends_of(path)
    step = SAMPLE_M if bends is None else min(SAMPLE_M, SAMPLE_RATIO / bends.tightest_per_m)
    count = min(max(LEAST_SAMPLES, math.ceil((high_m - low_m) / step)), MOST_SAMPLES)
    stations = evenly(low_m, high_m, count)
    poses = path.pose(stations)
    return Samples(stations, poses.x_m, poses.y_m)
