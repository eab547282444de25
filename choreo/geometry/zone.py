"""The conflict zone: where one body overlaps anything that another one sweeps."""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np

from choreo.geometry.bodies import body_corners
from choreo.geometry.poses import Array, Path
from choreo.geometry.tolerances import ZONE_M

STEP_M = 0.5
MOST_SAMPLES = 2000
SECTIONS = 17
LEVELS = 5
ITERATIONS = 60


class ConflictZone(NamedTuple):
    """Stations in m at which each body starts and stops to overlap what the other sweeps."""

    entry_a_m: float
    exit_a_m: float
    entry_b_m: float
    exit_b_m: float


def conflict_zone(path_a: Path, body_a: Any, path_b: Path, body_b: Any) -> ConflictZone | None:
    """Give the zone that both bodies enter and leave; from the first entry to the last exit.

    path_a, body_a, path_b, body_b: alike. Returns stations of the reference points in m. None when the
    bodies never come together, and when one of them is in the other's strip already at the start or
    still at the end of its path (movers in one lane): there is no zone to be entered and left.
    """
    strip_a = _strip(_Swept(path_a, body_a), _Swept(path_b, body_b))
    if strip_a is None:
        return None
    strip_b = _strip(_Swept(path_b, body_b), _Swept(path_a, body_a))
    return None if strip_b is None else ConflictZone(*strip_a, *strip_b)


class _Swept:
    """A body along its path."""

    def __init__(self, path: Path, body: Any) -> None:
        self.path = path
        self.corners_m = np.asarray(body.corners_m, dtype=float)
        self.reach_m = float(np.hypot(*self.corners_m.T).max())
        count = min(max(2, math.ceil(path.length_m / STEP_M) + 1), MOST_SAMPLES)
        self.stations_m = np.linspace(0.0, path.length_m, count)
        self.step_m = float(self.stations_m[1])

    def placed(self, s_m: Array) -> Array:
        return body_corners(self.corners_m, self.path.pose(s_m))


def _separation(p: Array, q: Array) -> Array:
    """Widest gap along any edge's normal, negative when overlapping; p (n, k, 2), q (n, m, 2), in m."""
    widest = np.full(len(p), -np.inf)
    for one, other in ((p, q), (q, p)):
        edges = np.roll(one, -1, axis=1) - one
        normals = np.stack((edges[..., 1], -edges[..., 0]), axis=2)
        normals /= np.hypot(edges[..., 0], edges[..., 1])[..., None]
        offsets = (normals * one).sum(axis=2)
        least = np.matmul(normals, other.transpose(0, 2, 1)).min(axis=2)
        widest = np.maximum(widest, (least - offsets).max(axis=1))
    return widest


def _strip(a: _Swept, b: _Swept) -> tuple[float, float] | None:
    """Stations of a at which it enters and leaves what b sweeps."""
    at_a, at_b = a.path.pose(a.stations_m), b.path.pose(b.stations_m)
    reach = a.reach_m + b.reach_m
    near = (at_a.x_m[:, None] - at_b.x_m) ** 2 + (at_a.y_m[:, None] - at_b.y_m) ** 2 <= reach**2
    i, j = np.nonzero(near)
    if not len(i):
        return None
    gaps = _separation(a.placed(a.stations_m)[i], b.placed(b.stations_m)[j])
    least = np.full(len(a.stations_m), np.inf)
    np.minimum.at(least, i, gaps)
    best = np.zeros(len(a.stations_m), dtype=int)
    hits = gaps <= least[i]
    best[i[hits]] = j[hits]
    inside = np.flatnonzero(least <= 0.0)
    if not len(inside):
        return _graze(a, b, least, best)
    first, last = int(inside[0]), int(inside[-1])
    if first == 0 or last == len(least) - 1:
        return None
    entry = _edge(a, b, (first - 1, first), best)
    exit_ = _edge(a, b, (last + 1, last), best)
    return entry, exit_


def _graze(a: _Swept, b: _Swept, least: Array, best: Array) -> tuple[float, float] | None:
    """Samples saw no overlap; look between them where they came nearest."""
    if not np.isfinite(least).any():
        return None
    at = int(least.argmin())
    if least[at] > a.step_m + b.step_m or not 0 < at < len(least) - 1:
        return None
    stations = np.linspace(a.stations_m[at - 1], a.stations_m[at + 1], SECTIONS)
    gaps = [_least_gap(a, b, float(s), float(b.stations_m[best[at]]))[0] for s in stations]
    inside = np.flatnonzero(np.array(gaps) <= 0.0)
    if not len(inside) or inside[0] == 0 or inside[-1] == SECTIONS - 1:
        return None
    start = float(b.stations_m[best[at]])
    first, last = int(inside[0]), int(inside[-1])
    return (
        _crossed(a, b, float(stations[first - 1]), float(stations[first]), start),
        _crossed(a, b, float(stations[last + 1]), float(stations[last]), start),
    )


def _edge(a: _Swept, b: _Swept, between: tuple[int, int], best: Array) -> float:
    outside, inside = between
    start = float(b.stations_m[best[inside]])
    return _crossed(a, b, float(a.stations_m[outside]), float(a.stations_m[inside]), start)


def _crossed(a: _Swept, b: _Swept, outside: float, inside: float, start_b: float) -> float:
    """Station between outside and inside at which the least gap vanishes: Illinois, then halving."""
    at_out, _ = _least_gap(a, b, outside, start_b)
    at_in, where = _least_gap(a, b, inside, start_b)
    if at_out <= 0.0:
        return outside
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
    """Least separation of a at one station from b near another, and where; sections ever finer."""
    placed = a.placed(np.array([s_a]))
    half, gap = 2.0 * b.step_m, np.inf
    for _ in range(LEVELS):
        low, high = max(near_b - half, 0.0), min(near_b + half, b.path.length_m)
        stations = np.linspace(low, high, SECTIONS)
        gaps = _separation(np.repeat(placed, SECTIONS, axis=0), b.placed(stations))
        at = int(gaps.argmin())
        gap, near_b = float(gaps[at]), float(stations[at])
        half = 2.0 * half / (SECTIONS - 1)
    return gap, near_b
