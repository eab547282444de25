"""The conflict zone: where one body overlaps anything that another one sweeps."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from choreo.geometry.bodies import Outline
from choreo.geometry.poses import Array, Path, Poses
from choreo.geometry.tolerances import PROBE_M, ZONE_M

# Both paths are sampled: no body is shorter, so that what passes through another overlaps it at some pair of samples;
# mere grazes are looked for apart.
STEP_M = 0.5
# On longer paths the step grows: the pairs of samples fill a table of this size squared.
MOST_SAMPLES = 2000
# Which pairs are near is looked for at every fourth sample first: a sixteenth of the distances.
COARSE = 4
# A graze is looked for this many samples before and after the nearest pair, and twice as far until its ends are found.
GRAZE_SAMPLES = 3
# The least gap: so many samples of a window, then of the cells beside the least one, six times in all. With samples
# CLUSTERed where the lines on both sides meet (parts of the window), straight paths take two levels.
SECTIONS = 17
LEVELS = 6
CLUSTER = np.array([-0.1, -0.01, -PROBE_M, 0.0, PROBE_M, 0.01, 0.1]) / 10.0
# False position takes about ten; what half of these have not closed, halving does: 30 times, from 0.1 m to ZONE_M.
ITERATIONS = 60


class ConflictZone(NamedTuple):
    """Stations in m at which each body starts and stops to overlap what the other sweeps.

    once: nowhere in between is either clear of what the other sweeps; on a ring that is crossed in each lap it is.
    """

    entry_a_m: float
    exit_a_m: float
    entry_b_m: float
    exit_b_m: float
    once: bool


def conflict_zone(
    path_a: Path, body_a: Outline, path_b: Path, body_b: Outline
) -> ConflictZone | None:
    """Give the zone that both bodies enter and leave; from the first entry to the last exit.

    path_a, body_a, path_b, body_b: alike. Returns stations of the reference points in m. None when the
    bodies never come together, and when one of them is in the other's strip already at the start or
    still at the end of its path (movers in one lane): there is no zone to be entered and left.
    """
    a, b = _Swept(path_a, body_a), _Swept(path_b, body_b)
    if _inside_at_ends(a, b) or _inside_at_ends(b, a):
        return None
    strip_a = _strip(a, b)
    if strip_a is None:
        return None
    strip_b = _strip(b, a)
    if strip_b is None:
        return None
    return ConflictZone(*strip_a[:2], *strip_b[:2], once=strip_a[2] and strip_b[2])


class _Swept:
    """A body along its path."""

    def __init__(self, path: Path, body: Outline) -> None:
        self.path = path
        self.corners_m = np.asarray(body.corners_m, dtype=float)
        self.reach_m = float(np.hypot(*self.corners_m.T).max())
        count = min(max(2, math.ceil(path.length_m / STEP_M) + 1), MOST_SAMPLES)
        self.stations_m = np.linspace(0.0, path.length_m, count)
        self.step_m = float(self.stations_m[1])
        self.poses = path.pose(self.stations_m)
        edges = np.roll(self.corners_m, -1, axis=0) - self.corners_m
        outwards = np.stack((edges[:, 1], -edges[:, 0]), axis=1)
        self.normals = outwards / np.hypot(edges[:, 0], edges[:, 1])[:, None]
        self.offsets_m = (self.normals * self.corners_m).sum(axis=1)

    def sampled(self, index: NDArray[np.intp]) -> Poses:
        """Poses at samples by index, shape (n,)."""
        p = self.poses
        return Poses(p.x_m[index], p.y_m[index], p.heading_rad[index], p.curvature_per_m[index])


def _separation(a: _Swept, at_a: Poses, b: _Swept, at_b: Poses) -> Array:
    """Widest gap along any edge's normal in m, negative when overlapping; n poses of b, one or n of a."""
    dx, dy = at_b.x_m - at_a.x_m, at_b.y_m - at_a.y_m
    cos_a, sin_a = np.cos(at_a.heading_rad), np.sin(at_a.heading_rad)
    cos_b, sin_b = np.cos(at_b.heading_rad), np.sin(at_b.heading_rad)
    cos, sin = cos_a * cos_b + sin_a * sin_b, cos_a * sin_b - sin_a * cos_b
    seen_from_a = _outside(a, b, (cos_a * dx + sin_a * dy, cos_a * dy - sin_a * dx), cos, sin)
    seen_from_b = _outside(b, a, (-cos_b * dx - sin_b * dy, sin_b * dx - cos_b * dy), cos, -sin)
    return np.maximum(seen_from_a, seen_from_b)


def _outside(a: _Swept, b: _Swept, place: tuple[Array, Array], cos: Array, sin: Array) -> Array:
    """How far b, placed and turned in a's frame, is beyond the edge of a that it is farthest beyond."""
    x = place[0] + cos * b.corners_m[:, :1] - sin * b.corners_m[:, 1:]
    y = place[1] + sin * b.corners_m[:, :1] + cos * b.corners_m[:, 1:]
    beyond = a.normals[:, :1, None] * x + a.normals[:, 1:, None] * y
    return np.asarray((beyond.min(axis=1) - a.offsets_m[:, None]).max(axis=0))


def _inside_at_ends(a: _Swept, b: _Swept) -> bool:
    """Whether a at its first or last station overlaps b at any sample."""
    for at in (0, len(a.stations_m) - 1):
        apart = np.hypot(b.poses.x_m - a.poses.x_m[at], b.poses.y_m - a.poses.y_m[at])
        near = np.flatnonzero(apart <= a.reach_m + b.reach_m)
        here = a.sampled(np.array([at]))
        if len(near) and float(_separation(a, here, b, b.sampled(near)).min()) <= 0.0:
            return True
    return False


def _strip(a: _Swept, b: _Swept) -> tuple[float, float, bool] | None:
    """Stations of a at which it enters and leaves what b sweeps, and whether it is in there all the way between."""
    i, j = _near_pairs(a, b)
    if not len(i):
        return None
    gaps = np.full((len(a.stations_m), len(b.stations_m)), np.inf)
    gaps[i, j] = _separation(a, a.sampled(i), b, b.sampled(j))
    inside = np.flatnonzero((gaps <= 0.0).any(axis=1))
    if not len(inside):
        grazed = _graze(a, b, gaps)
        return None if grazed is None else (*grazed, True)
    first, last = int(inside[0]), int(inside[-1])
    if first == 0 or last == len(gaps) - 1:
        return None
    entries = [_edge(a, b, (first - 1, first), start) for start in _seeds(b, gaps[first])]
    exits = [_edge(a, b, (last + 1, last), start) for start in _seeds(b, gaps[last])]
    return min(entries), max(exits), len(inside) == last - first + 1


def _near_pairs(a: _Swept, b: _Swept) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Samples of both at which the bodies could touch; looked for coarsely first."""
    p, q, reach = a.poses, b.poses, a.reach_m + b.reach_m
    rows, columns = np.arange(0, len(p.x_m), COARSE), np.arange(0, len(q.x_m), COARSE)
    slack = COARSE * (a.step_m + b.step_m)
    for within in (reach + slack, reach):
        dx, dy = p.x_m[rows, None] - q.x_m[columns], p.y_m[rows, None] - q.y_m[columns]
        i, j = np.nonzero(dx**2 + dy**2 <= within**2)
        i, j = rows[i], columns[j]
        if within == reach or not len(i):
            break
        rows = np.arange(max(i.min() - COARSE, 0), min(i.max() + COARSE + 1, len(p.x_m)))
        columns = np.arange(max(j.min() - COARSE, 0), min(j.max() + COARSE + 1, len(q.x_m)))
    return i, j


def _seeds(b: _Swept, gaps: Array) -> list[float]:
    """Stations of b round which the gap has a local least value below zero."""
    padded = np.concatenate(([np.inf], gaps, [np.inf]))
    least = (gaps <= 0.0) & (gaps < padded[:-2]) & (gaps <= padded[2:])
    return [float(station) for station in b.stations_m[least]]


def _graze(a: _Swept, b: _Swept, gaps: Array) -> tuple[float, float] | None:
    """Samples saw no overlap; look between them where they came nearest."""
    at, near = (int(one) for one in np.unravel_index(int(gaps.argmin()), gaps.shape))
    if gaps[at, near] > a.step_m + b.step_m or not 0 < at < len(gaps) - 1:
        return None
    start = float(b.stations_m[near])
    around = GRAZE_SAMPLES
    while True:
        low, high = max(at - around, 0), min(at + around, len(gaps) - 1)
        stations = np.linspace(a.stations_m[low], a.stations_m[high], 8 * (high - low) + 1)
        fine = np.array([_least_gap(a, b, float(s), start)[0] for s in stations])
        inside = np.flatnonzero(fine <= 0.0)
        if not len(inside):
            return None
        first, last = int(inside[0]), int(inside[-1])
        if first > 0 and last < len(fine) - 1:
            break
        if low == 0 and high == len(gaps) - 1:
            return None
        around *= 2
    return (
        _crossed(a, b, float(stations[first - 1]), float(stations[first]), start),
        _crossed(a, b, float(stations[last + 1]), float(stations[last]), start),
    )


def _edge(a: _Swept, b: _Swept, between: tuple[int, int], start_b: float) -> float:
    outside, inside = between
    return _crossed(a, b, float(a.stations_m[outside]), float(a.stations_m[inside]), start_b)


def _crossed(a: _Swept, b: _Swept, outside: float, inside: float, start_b: float) -> float:
    """Station between outside and inside at which the least gap vanishes: Illinois, then halving."""
    at_in, where = _least_gap(a, b, inside, start_b)
    at_out, place = _least_gap(a, b, outside, where)
    while at_out <= 0.0:
        # Between its samples b already reached this far: look farther out.
        step = outside - inside
        inside, at_in, where, outside = outside, at_out, place, outside + step
        at_out, place = _least_gap(a, b, outside, where)
    side = 0
    for count in range(ITERATIONS):
        share = at_out / (at_out - at_in) if count < ITERATIONS // 2 else 0.5
        middle = outside + share * (inside - outside)
        gap, found = _least_gap(a, b, middle, where)
        if gap > 0.0:
            outside, at_out, at_in = middle, gap, (at_in / 2.0 if side > 0 else at_in)
            side = 1
        else:
            inside, at_in, where = middle, gap, found
            at_out, side = (at_out / 2.0 if side < 0 else at_out), -1
        if abs(inside - outside) <= ZONE_M or abs(gap) <= ZONE_M / 10.0:
            return middle
    return inside


def _least_gap(a: _Swept, b: _Swept, s_a: float, near_b: float) -> tuple[float, float]:
    """Least separation of a at one station from b near another, and where.

    Along straight paths it is convex and piecewise linear in b's station: the lines on both sides of
    the best sample meet in the least one, so samples are set close round that place and evenly.
    """
    here = a.path.pose(np.array([s_a]))
    low, high = max(near_b - 2.0 * b.step_m, 0.0), min(near_b + 2.0 * b.step_m, b.path.length_m)
    stations = np.linspace(low, high, SECTIONS)
    gap, at = np.inf, 0
    for _ in range(LEVELS):
        gaps = _separation(a, here, b, b.path.pose(stations))
        at = int(gaps.argmin())
        gap, near_b = float(gaps[at]), float(stations[at])
        low, high = float(stations[max(at - 1, 0)]), float(stations[min(at + 1, len(gaps) - 1)])
        if high - low <= ZONE_M:
            break
        tip = min(max(_lines_meet(stations, gaps, at), low), high)
        cluster = np.clip(tip + CLUSTER * (high - low), low, high)
        stations = np.unique(
            np.concatenate((np.linspace(low, high, SECTIONS // 2), cluster, [near_b]))
        )
    return gap, near_b


def _lines_meet(stations: Array, gaps: Array, at: int) -> float:
    """Where the line through the two samples left of the best meets the one right of it."""
    if not 2 <= at <= len(gaps) - 3:
        return float(stations[at])
    (a, b), (c, d) = stations[at - 2 : at], stations[at + 1 : at + 3]
    left = (gaps[at - 1] - gaps[at - 2]) / (b - a)
    right = (gaps[at + 2] - gaps[at + 1]) / (d - c)
    if right - left <= 0.0:
        return float(stations[at])
    return float((gaps[at - 1] - left * b - gaps[at + 1] + right * c) / (right - left))
