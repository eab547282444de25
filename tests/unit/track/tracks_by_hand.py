"""Tracks made by hand and at random, and where their bodies are by other arithmetic than the product's."""

import itertools

import numpy as np
import shapely
from numpy.typing import NDArray

from choreo.geometry import CurvePath
from choreo.track.motion import PlannedMotion
from choreo.track.tracks import Track

Array = NDArray[np.float64]
CAR = np.array([(3.4, 0.9), (-0.9, 0.9), (-0.9, -0.9), (3.4, -0.9)])
WALKER = np.array([(0.3, 0.25), (-0.3, 0.25), (-0.3, -0.25), (0.3, -0.25)])


def straight(
    length_m: float, start: tuple[float, float] = (0.0, 0.0), heading: float = 0.0
) -> CurvePath:
    """A straight path."""
    return CurvePath([(length_m, 0.0, 0.0)], start, heading)


def track(
    path: CurvePath,
    phases: list[tuple[float, float, float]],
    *,
    name: str = "mover",
    corners: Array = CAR,
    start_m: float = 0.0,
    start_mps: float = 0.0,
    launch_s: float = 0.0,
) -> Track:
    """A track from (duration s, acceleration at its start m/s2, jerk m/s3), one after the other."""
    rows = []
    at, s, v = launch_s, start_m, start_mps
    for duration, accel, jerk in phases:
        rows.append((at, duration, s, v, accel, jerk))
        s += duration * (v + duration * (accel / 2 + duration * jerk / 6))
        v += duration * (accel + duration * jerk / 2)
        at += duration
    pieces = np.array(rows).reshape(-1, 6)
    return Track(name, path, corners, PlannedMotion(start_m, start_mps, pieces))


def random_track(random: np.random.Generator) -> Track:
    """A car or a walker on a path of lines, arcs and clothoids near the origin, that speeds up, holds and stops."""
    start = (float(random.uniform(-40, 40)), float(random.uniform(-40, 40)))
    # Aimed at the middle, give or take, so that many pairs come near each other.
    heading = float(np.arctan2(-start[1], -start[0]) + random.normal(0.0, 0.4))
    bends = [0.0, *random.uniform(-0.08, 0.08, 2), 0.0]
    stretches = [
        (float(random.uniform(5, 30)), float(a), float(b)) for a, b in itertools.pairwise(bends)
    ]
    stretches += [(20.0, float(random.uniform(-0.05, 0.05)), 0.0)]
    path = CurvePath(stretches, start, heading)
    speed = float(random.uniform(1, 15))
    accel = float(random.uniform(1, 4))
    jerk = float(random.uniform(2, 10))
    build = min(accel / jerk, float(np.sqrt(speed / jerk)))
    peak = jerk * build
    flat = max(speed / peak - build, 0.0)
    up = [(build, 0.0, jerk), (flat, peak, 0.0), (build, peak, -jerk)]
    reached = sum(d * (a + d * j / 2) for d, a, j in up)
    brake = float(random.uniform(2, 8))
    phases = [*up, (float(random.uniform(0.5, 6)), 0.0, 0.0), (reached / brake, -brake, 0.0)]
    corners = CAR if random.random() < 0.7 else WALKER
    if random.random() < 0.15:
        return track(path, [], corners=corners)
    return track(path, phases, corners=corners, launch_s=float(random.uniform(0, 4)))


def stations(one: Track, times_s: Array) -> Array:
    """Stations at times, shape (n,), each by the piece that it falls into."""
    rows = one.motion.pieces
    if not len(rows):
        return np.full(len(times_s), one.motion.start_m)
    which = np.searchsorted(rows[:, 0], times_s, "right") - 1
    start, duration, s, v, a, j = rows.T[:, np.maximum(which, 0)]
    u = np.minimum(np.maximum(times_s - start, 0.0), duration)
    moved = s + u * (v + u * (a / 2 + u * j / 6))
    return np.where(which >= 0, moved, one.motion.start_m)


def bodies(one: Track, stations_m: Array) -> Array:
    """Polygons of the body at stations, shape (n,)."""
    poses = one.path.pose(stations_m)
    cos, sin = np.cos(poses.heading_rad)[:, None], np.sin(poses.heading_rad)[:, None]
    forward, left = one.corners_m.T
    x = poses.x_m[:, None] + forward * cos - left * sin
    y = poses.y_m[:, None] + forward * sin + left * cos
    return np.asarray(shapely.polygons(np.dstack((x, y))))
