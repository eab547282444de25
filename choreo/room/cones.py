"""Cones of courses: touched by a body on its planned way, or how far it stays away.

Whether one is touched says the area swept, a union of hulls that is never too small; how deep it is inside, or how far
the body stays away, says the body at the pose that comes nearest.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
import shapely
from numpy.typing import NDArray

from choreo.geometry import Path, body_corners
from choreo.plans.room_record import ConePlan
from choreo.room.envelope import Envelope
from choreo.scenario import Scenario
from choreo.track.tracks import Track

# A body near a cone is looked at every so many metres of its path.
STEP_M = 0.02
# And round the place where it comes nearest every so many.
FINE_M = 5e-4


def cones_of(
    scenario: Scenario, paths: Mapping[str, Path], envelope: Envelope
) -> tuple[ConePlan, ...]:
    """Give every cone of every course that a mover drives, with the mover that comes nearest to it.

    paths: by mover.
    """
    driven = {mover.path for mover in scenario.movers.values()}
    moving = {name: track for name, track in envelope.tracks.items() if track.moves}
    found = []
    for path, spec in scenario.paths.items():
        if spec.course is None or path not in driven or not moving:
            continue
        for cone in spec.course.cones:
            at = spec.on_site(cone.x_m, cone.y_m)
            mover, clear = min(
                ((name, _clear_m(envelope, name, at)) for name in moving), key=lambda one: one[1]
            )
            depth, station = _deepest(moving[mover], at)
            # Hulls are too large by millimetres. What is touched by less than that is touched all the same.
            clear_m = max(clear, -depth) if clear > 0.0 else min(-depth, -1e-6)
            found.append(ConePlan(path, cone.name, *at, cone.side, mover, clear_m, station))
    return tuple(found)


def _clear_m(envelope: Envelope, mover: str, at: tuple[float, float]) -> float:
    """How far the area that a mover sweeps by plan stays from a place, in m."""
    return float(shapely.distance(envelope.sweeps[mover].planned, shapely.Point(at)))


def _deepest(track: Track, at: tuple[float, float]) -> tuple[float, float]:
    """How deep a place is inside of a body at most (below 0: outside), in m, and the station in m then."""
    first, last = track.motion.start_m, float(track.states(np.array([track.end_s]))[0][0])
    reach = track.radius_m + STEP_M
    coarse = np.linspace(first, last, max(2, math.ceil((last - first) / reach) + 1))
    poses = track.path.pose(coarse)
    apart = np.hypot(poses.x_m - at[0], poses.y_m - at[1])
    near = coarse[apart <= max(float(apart.min()), 2.0 * reach)]
    stations = np.concatenate([np.arange(s - reach, s + reach, STEP_M) for s in near])
    _, nearest = _deepest_of(track, at, np.unique(np.clip(stations, first, last)))
    around = np.arange(nearest - STEP_M, nearest + STEP_M, FINE_M)
    return _deepest_of(track, at, np.unique(np.clip(around, first, last)))


def _deepest_of(
    track: Track, at: tuple[float, float], stations: NDArray[np.float64]
) -> tuple[float, float]:
    """The same, with the body at some stations (m), shape (n,)."""
    bodies = shapely.polygons(body_corners(track.corners_m, track.path.pose(stations)))
    point = shapely.Point(at)
    inside = shapely.intersects(bodies, point)
    edges = shapely.distance(shapely.boundary(bodies), point)
    depths = np.where(inside, edges, -edges)
    deepest = int(depths.argmax())
    return float(depths[deepest]), float(stations[deepest])
