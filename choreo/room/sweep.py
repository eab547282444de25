"""The area that bodies sweep by plan, and by stops from any instant: along the path or straight on.

Between neighbouring poses a body stays inside the hull of both, widened by what its corners bulge on the way. A
point r from the reference point moves along a curve whose second derivative by station is at most
k + r (k^2 + k'), with the curvature k and its change k'; over a step h it leaves its chord by at most that times
h^2 / 8. A stop straight on sweeps the hull of its first and its last body; between two neighbouring ones the same
holds with the stop's whole way added to r.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from operator import itemgetter

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from choreo.geometry import Path, Poses, body_corners, lap_of, ways_along
from choreo.ground.stop import Stop
from choreo.room.stopping import stops_of
from choreo.room.tolerances import SWEEP_STEP_M, SWEEP_TURN_RAD
from choreo.track.motion import Array
from choreo.track.tracks import Track
from choreo.words.records import dataclass

# No sweep is laid from more poses than this.
MOST_POSES = 20_000
# A stretch of the path is looked at from this far (m) inside its ends, where the next one does not count yet.
INSET_M = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class Swept:
    """What one mover sweeps, in the site frame: by plan, and by plan or by a stop from any instant."""

    planned: BaseGeometry
    with_stops: BaseGeometry


def swept(track: Track, stop: Stop | None) -> Swept:
    """Sweep one mover's body: its planned way, failsafe stops along the path and straight on from any instant.

    stop: None for a mover that only stands.
    """
    if stop is None or not track.moves:
        body = shapely.polygons(track.corners(np.zeros(1)))[0]
        return Swept(body, body)
    stops = stops_of(track, stop)
    first, last = float(stops.here_m.min()), float(stops.here_m.max())
    planned = along(track, first, last)
    farther = along(track, last, max(float(stops.ends_m.max()), last))
    straight_on = _straight_on(track, stops.here_m, stops.ways_m)
    return Swept(planned, shapely.union_all([planned, farther, straight_on]))


def along(track: Track, from_m: float, until_m: float) -> BaseGeometry:
    """Sweep a body along its path between two stations in m; of a closed one every lap is the same."""
    until_m = min(until_m, from_m + (lap_of(track.path) or math.inf))
    stations = _stations(track.path, from_m, until_m)
    bodies = body_corners(track.corners_m, track.path.pose(stations))
    if len(stations) == 1:
        return shapely.polygons(bodies)[0]
    pairs = np.concatenate((bodies[:-1], bodies[1:]), axis=1)
    return _union_of_hulls(pairs, _bulges(track, stations, track.radius_m))


def _straight_on(track: Track, here: Array, ways: Array) -> BaseGeometry:
    """Sweep stops that leave the path at each of the stations and go straight on for their ways."""
    order = np.argsort(here, kind="stable")
    here, ways = here[order], ways[order]
    stations = _stations(track.path, float(here[0]), float(here[-1]))
    if len(stations) == 1:
        stations = np.repeat(stations, 2)
    steps = np.diff(stations)
    bends = _bends(track, stations)
    # Between two stations the longest way of those looked at near them counts; on a straight, however long,
    # how far the farthest gets.
    longest = _most_between(stations, here, ways)
    farthest = np.maximum(_most_between(stations, here, here + ways) - stations[:-1], steps)
    first = np.where(bends == 0.0, farthest, longest)
    second = np.where(bends == 0.0, farthest - steps, longest)
    poses = track.path.pose(stations)
    # Which way it goes between two stations, up to and beyond the one at which it would turn back.
    sense = ways_along(track.path, (stations[:-1] + stations[1:]) / 2.0)
    hulls = []
    for side, way in ((slice(None, -1), first), (slice(1, None), second)):
        part = _part(poses, side)
        bodies = body_corners(track.corners_m, part)
        ahead = np.stack((np.cos(part.heading_rad), np.sin(part.heading_rad)), axis=1)
        ahead = ahead * sense[:, None]
        hulls += [bodies, bodies + (way[:, None] * ahead)[:, None, :]]
    bulges = _bulges(track, stations, track.radius_m + longest)
    return _union_of_hulls(np.concatenate(hulls, axis=1), bulges)


def _bulges(track: Track, stations: Array, radius_m: Array | float) -> Array:
    """Give by how much points at radius_m from the reference point leave their chords between stations, in m."""
    steps = np.diff(stations)
    turns = _bends(track, stations) * steps
    # Twice, since the curvature of a surveyed path does not change evenly between stations.
    changes = 2.0 * np.abs(np.diff(track.path.pose(stations).curvature_per_m))
    curved = turns > 0.0
    bulges = (steps * turns + radius_m * (turns**2 + changes * steps)) / 8.0
    return np.asarray(np.where(curved, bulges, 0.0))


def _bends(track: Track, stations: Array) -> Array:
    """Give bounds of |curvature| in 1/m between stations: the bend in which a straight ends is not its own."""
    inset = np.minimum(INSET_M, np.diff(stations) / 4)
    return track.most_bend(stations[:-1] + inset, stations[1:] - inset)


def _most_between(stations: Array, here: Array, values: Array) -> Array:
    """Give the largest value at any of `here` between neighbouring stations, those just outside included.

    stations: rising, shape (n,). here: rising, values: shape (m,). Returns shape (n - 1,).
    """
    first = np.searchsorted(here, stations[:-1], side="left") - 1
    last = np.searchsorted(here, stations[1:], side="right") + 1
    low, high = np.clip(first, 0, len(here) - 1), np.clip(last, 1, len(here))
    pairs = np.stack((low, np.maximum(high, low + 1)), axis=1).ravel()
    return np.asarray(np.maximum.reduceat(np.append(values, -np.inf), pairs)[::2])


def _stations(path: Path, from_m: float, until_m: float) -> Array:
    """Stations close enough for hulls: every change of curvature, small turns, short steps."""
    if until_m <= from_m:
        return np.array([from_m])
    nodes = [from_m, until_m]
    stretches = path.stretches()
    first = bisect_right(stretches, from_m, key=itemgetter(1))
    last = bisect_left(stretches, until_m, key=itemgetter(0))
    for start, end, k_0, k_1 in stretches[first:last]:
        low, high = max(start, from_m), min(end, until_m)
        if high <= low:
            continue
        bend = max(abs(k_0), abs(k_1))
        if bend == 0.0:
            nodes += [low, high]
            continue
        step = min(SWEEP_STEP_M, SWEEP_TURN_RAD / bend)
        count = min(int(np.ceil((high - low) / step)), MOST_POSES)
        nodes += [low, high] if count == 1 else list(np.linspace(low, high, count + 1))
    return np.unique(nodes)


def _union_of_hulls(points: Array, bulges: Array) -> BaseGeometry:
    """Unite the convex hulls of rows of points, shape (n, k, 2), each widened by its bulge in m, shape (n,)."""
    hulls = shapely.convex_hull(shapely.multipoints(points))
    wide = bulges > 0.0
    hulls[wide] = shapely.buffer(hulls[wide], bulges[wide], join_style="mitre")
    return shapely.union_all(hulls)


def _part(poses: Poses, part: slice) -> Poses:
    return Poses(
        poses.x_m[part], poses.y_m[part], poses.heading_rad[part], poses.curvature_per_m[part]
    )
