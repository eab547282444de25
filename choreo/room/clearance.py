"""How near two bodies come over a stretch of time: a bound, not a sample.

At the middle of an interval the distance of the two polygons is exact, and so is the direction in which they are
apart. Convex bodies are at least as far apart as they are in that direction, and in it they can near each other only by
half the interval's length times the speed at which a point of one nears a point of the other in it. Intervals that
this proves to be farther than the nearest approach found so far are done, the others are cut in four.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from choreo.geometry import Poses, body_corners, ways_along
from choreo.room.tolerances import CLEARANCE_M, LOOK_S, SAME_DIGITS
from choreo.track.motion import Array, Index
from choreo.track.tracks import Track
from choreo.track.variants import Moving
from choreo.words.records import dataclass

# A doubtful interval is cut in so many: two would ask for more rounds of exact distances, more for more distances.
PARTS = 4
# Exact distances are asked of so many pairs of polygons at once.
MOST_AT_ONCE = 200_000
# However long a stretch of time is, it is first looked at in no more parts than this.
MOST_FIRST_LOOKS = 16


@dataclass(frozen=True, slots=True, eq=False)
class Nearest:
    """For each variant: a lower bound of the distance in m and when it was found, of shape (k,).

    With floors, a variant that comes below its floor has some distance below it, not the least one.
    """

    least_m: Array
    time_s: Array


@dataclass(frozen=True, slots=True, eq=False)
class _Side:
    track: Track
    moving: Moving

    @classmethod
    def of(cls, moving: Moving) -> _Side:
        return cls(moving if isinstance(moving, Track) else moving.track, moving)


def nearest(
    a: Moving,
    b: Moving,
    from_s: Array,
    until_s: Array,
    floors_m: Array | None = None,
    within_m: float = CLEARANCE_M,
) -> Nearest:
    """Give the least distance of two bodies over [from_s, until_s], for every variant at once.

    from_s, until_s: shape (k,); a variant whose until_s is before its from_s has nothing to look at: inf.
    floors_m: shape (k,); only whether the distance stays at or above it matters then, and the search ends there.
    Returns bounds that are never more than the truth and less by at most within_m.
    """
    count = len(from_s)
    best = np.full(count, np.inf)
    at = np.asarray(from_s, dtype=float).copy()
    sides = (_Side.of(a), _Side.of(b))
    variant, middle, half = _first_intervals(from_s, until_s)
    while len(variant):
        relative = _relative(sides, variant, middle, half)
        near = relative.far_bound_m < _wanted(best, floors_m, within_m)[variant]
        variant, middle, half = variant[near], middle[near], half[near]
        if not len(variant):
            break
        distance, direction = _distances(sides, [part.at(near) for part in relative.poses])
        _lower(best, at, variant, distance, middle)
        nearing = np.abs((np.conj(direction) * relative.velocity_mps[near]).real)
        approach = half * (nearing + relative.slack_mps[near])
        doubtful = distance - approach < _wanted(best, floors_m, within_m)[variant]
        variant, middle, half = _cut(variant[doubtful], middle[doubtful], half[doubtful])
    return Nearest(np.maximum(best - within_m, 0.0), at)


def _wanted(best: Array, floors_m: Array | None, within_m: float) -> Array:
    """What an interval must be proven to stay above, by variant, shape (k,); -inf where nothing is left to learn."""
    wanted = np.where(best > 0.0, best - within_m, -np.inf)
    if floors_m is None:
        return wanted
    return np.where(best < floors_m, -np.inf, np.minimum(wanted, floors_m))


def _first_intervals(from_s: Array, until_s: Array) -> tuple[Index, Array, Array]:
    variants = np.flatnonzero(until_s >= from_s)
    spans = (until_s - from_s)[variants]
    parts = np.clip(np.ceil(spans / LOOK_S), 1, MOST_FIRST_LOOKS).astype(np.int64)
    half = spans / parts / 2
    which = np.repeat(np.arange(len(variants)), parts)
    number = np.arange(len(which)) - np.repeat(np.cumsum(parts) - parts, parts)
    middle = from_s[variants][which] + half[which] * (2 * number + 1)
    return variants[which], middle, half[which]


def _cut(variant: Index, middle: Array, half: Array) -> tuple[Index, Array, Array]:
    steps = (2 * np.arange(PARTS) + 1) / PARTS - 1
    finer = middle[:, None] + half[:, None] * steps
    return np.repeat(variant, PARTS), finer.ravel(), np.repeat(half / PARTS, PARTS)


@dataclass(frozen=True, slots=True, eq=False)
class _Relative:
    """How two bodies move against each other over intervals, each of shape (n,).

    velocity_mps: of one reference point against the other in the middle, as x + iy. slack_mps: what its change
    and both bodies' turning can add for any pair of points. far_bound_m: no distance in the interval is less.
    poses: of both sides in the middle.
    """

    velocity_mps: NDArray[np.complex128]
    slack_mps: Array
    far_bound_m: Array
    poses: tuple[Poses, Poses]


def _relative(sides: tuple[_Side, _Side], variant: Index, middle: Array, half: Array) -> _Relative:
    velocity = []
    place = []
    there = []
    slack = np.zeros(len(variant))
    radii = 0.0
    for side in sides:
        station, speed = side.moving.states(middle, variant)
        poses = side.track.path.pose(station)
        accel = side.moving.most_accel(middle - half, middle + half, variant)
        most = speed + accel * half
        bend = side.track.most_bend(station - most * half, station + most * half)
        along = speed * ways_along(side.track.path, station)
        velocity.append(along * np.exp(1j * poses.heading_rad))
        place.append(poses.x_m + 1j * poses.y_m)
        there.append(poses)
        slack += most * bend * side.track.radius_m
        # A velocity changes by at most the acceleration, along and across, times the time.
        slack += np.hypot(accel, most**2 * bend) * half
        radii += side.track.radius_m
    difference = velocity[1] - velocity[0]
    apart = np.abs(place[0] - place[1]) - radii
    bound = apart - half * (np.abs(difference) + slack)
    return _Relative(difference, slack, bound, (there[0], there[1]))


def _distances(
    sides: tuple[_Side, _Side], poses: list[Poses]
) -> tuple[Array, NDArray[np.complex128]]:
    """Distances in m, and the unit directions (x + iy) from the first body to the second; 0 where they touch.

    poses: of both sides, n each. Returns shapes (n,).
    """
    found = []
    for start in range(0, len(poses[0].x_m), MOST_AT_ONCE):
        part = slice(start, start + MOST_AT_ONCE)
        shapes = [
            shapely.polygons(body_corners(side.track.corners_m, there.at(part)))
            for side, there in zip(sides, poses, strict=True)
        ]
        ends = shapely.get_coordinates(shapely.shortest_line(*shapes)).reshape(-1, 2, 2)
        found.append((ends[:, 1] - ends[:, 0]) @ np.array([1.0, 1j]))
    apart: NDArray[np.complex128] = np.concatenate(found)
    distance: Array = np.abs(apart)
    scale = np.where(distance > 0.0, distance, 1.0)
    return distance, apart / scale


def _lower(best: Array, at: Array, variant: Index, distance: Array, time_s: Array) -> None:
    """Take lower distances in, and when they are; of instants that are equally near, the first of those looked at."""
    rounded = np.round(distance, SAME_DIGITS)
    order = np.lexsort((-time_s, -rounded))
    lower = rounded[order] < np.round(best, SAME_DIGITS)[variant[order]]
    # Written from far to near and from late to early: the first of the nearest is written last and stays.
    at[variant[order][lower]] = time_s[order][lower]
    np.minimum.at(best, variant, distance)


def nearest_place(a: Track, b: Track, time_s: float) -> tuple[float, float]:
    """Give the site coordinates in m midway between the nearest points of two bodies at one time in s."""
    at = np.array([time_s])
    shapes = [shapely.polygons(one.corners(at))[0] for one in (a, b)]
    (x_0, y_0), (x_1, y_1) = shapely.get_coordinates(shapely.shortest_line(*shapes))[:2]
    return (float(x_0 + x_1) / 2, float(y_0 + y_1) / 2)
