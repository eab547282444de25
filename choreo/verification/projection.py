"""Bumper to bumper along a path: the other's facing end projected on the path of the one who measures."""

from __future__ import annotations

import math

import numpy as np

from choreo.geometry import Path, cusps_of, lap_of
from choreo.scenario import Body
from choreo.verification.integration import evenly
from choreo.words.records import dataclass

# Samples and zoom of the search for the nearest station: the step shrinks to five centimetres, which tells the way of a
# path beside a mover, and which the foot of the normal then makes exact: of what is missing it leaves the square over
# the radius, so three feet are more than enough on any road.
SAMPLES, CLOSER = 401, 41
LEVELS = 2
FEET = 3
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
    beside = _searched_m(path, there_x, there_y, around_m=state[0], span_m=span)
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
    """Give the station in m of the path nearest to a point, by search on ever finer samples.

    around_m: a station on the path; the search spans the path's length and the distance to the
    point on both sides of it. span_m: search between these stations only.
    """
    station = _searched_m(path, x_m, y_m, around_m=around_m, span_m=span_m)
    # The distance is flat at its least value, so the last digits come from the foot of the normal.
    for _ in range(FEET):
        foot_x, foot_y, heading, bend = path.pose_at(station)
        dx, dy = x_m - foot_x, y_m - foot_y
        left = dy * math.cos(heading) - dx * math.sin(heading)
        ahead = dx * math.cos(heading) + dy * math.sin(heading)
        station += ahead / (1.0 - left * bend)
    return float(station)


def _searched_m(
    path: Path,
    x_m: float,
    y_m: float,
    *,
    around_m: float,
    span_m: tuple[float, float] | None,
) -> float:
    """The nearest station as levels of samples have it; on a straight path there is nothing to search."""
    x, y, heading, _ = path.pose_at(around_m)
    dx, dy = x_m - x, y_m - y
    if span_m is None:
        away = math.hypot(dx, dy)
        span_m = min(0.0, around_m) - away, max(path.length_m, around_m) + away
    low, high = span_m
    if not cusps_of(path) and all(k_0 == k_1 == 0.0 for _, _, k_0, k_1 in path.stretches()):
        ahead = dx * math.cos(heading) + dy * math.sin(heading)
        return min(max(around_m + ahead, low), high)
    samples = max(SAMPLES, math.ceil(high - low))
    for _ in range(LEVELS):
        stations = evenly(low, high, samples - 1)
        poses = path.pose(stations)
        best = int(np.hypot(poses.x_m - x_m, poses.y_m - y_m).argmin())
        step = float(stations[1] - stations[0])
        low, high = float(stations[best]) - step, float(stations[best]) + step
        samples = CLOSER
    return (low + high) / 2
