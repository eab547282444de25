"""Where one body starts and stops to overlap anything another body sweeps, by placing both densely.

For each station of the first, the least separation over the stations of the second is looked
for; the edge of the zone is bracketed on ever finer samples of both.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from choreo.geometry import Path
from choreo.verification.separation import Figure, separation_m
from choreo.verification.tolerances import ZONE_M

Array = NDArray[np.float64]

# Both bodies are first placed this far (m) apart on their paths: any pair between two samples is counted in the slack.
STEP_M = 0.5
# A bracket of a is looked at in so many stations, so each round makes it eight times shorter, against so many of the
# stations of b that come nearest: two or three corners may compete there, each with its neighbours.
ROWS = 9
KEPT = 24
# Middles of the fifths of a cell from -1 to 1.
OFFSETS = np.array([-0.8, -0.4, 0.0, 0.4, 0.8])
# More rounds than this never help: half a metre is down to ZONE_M after seven; a doubtful one takes a few more.
LEVELS = 24
# Steps of Newton's method from a sample 0.5 m off; each doubles the digits.
TANGENTS = 20


class Strip(NamedTuple):
    """Stations in m of one mover at which its body enters and leaves what the other sweeps."""

    entry_m: float
    exit_m: float


def zone_strips(
    a: Figure, range_a_m: tuple[float, float], b: Figure, range_b_m: tuple[float, float]
) -> tuple[Strip, Strip] | None:
    """Give where each body begins and ends to overlap what the other sweeps; None if never.

    range_a_m, range_b_m: stations in m looked at. A zone that reaches beyond a range is cut there.
    """
    s_a, s_b = _samples(range_a_m), _samples(range_b_m)
    at_a, at_b = a.place(s_a), b.place(s_b)
    # Half a step on either side of a sample can bring the bodies nearer by this much.
    slack = STEP_M * (a.travel_ratio + b.travel_ratio) / 2
    reach = a.radius_m + b.radius_m + slack
    dx = at_a.x_m[:, None] - at_b.x_m[None, :]
    dy = at_a.y_m[:, None] - at_b.y_m[None, :]
    rows, columns = np.nonzero(dx * dx + dy * dy <= reach * reach)
    gaps = separation_m(a, at_a.take(rows), b, at_b.take(columns)) if len(rows) else np.zeros(0)
    near = gaps <= slack
    if not near.any():
        return None
    rows, columns, gaps = rows[near], columns[near], gaps[near]
    sides = (+1, -1)
    of_a = [_edge(a, s_a, b, s_b, (rows, columns, gaps), range_a_m, side) for side in sides]
    of_b = [_edge(b, s_b, a, s_a, (columns, rows, gaps), range_b_m, side) for side in sides]
    edges = [edge for edge in (*of_a, *of_b) if edge is not None]
    if len(edges) < 4:
        return None
    return Strip(edges[0], edges[1]), Strip(edges[2], edges[3])


def _samples(range_m: tuple[float, float]) -> Array:
    count = max(2, math.ceil((range_m[1] - range_m[0]) / STEP_M) + 1)
    return np.linspace(range_m[0], range_m[1], count)


def _edge(
    a: Figure,
    s_a: Array,
    b: Figure,
    s_b: Array,
    near: tuple[NDArray[np.int64], NDArray[np.int64], Array],
    range_a_m: tuple[float, float],
    side: int,
) -> float | None:
    """Bracket the first (side +1) or last (-1) station of a at which it overlaps b's sweep."""
    rows, columns, gaps = near
    ordered = np.argsort(side * rows, kind="stable")
    overlapping = ordered[gaps[ordered] <= 0.0]
    first = rows[ordered[0]]
    last = rows[overlapping[0]] if len(overlapping) else rows[ordered[-1]]
    low, high = sorted((float(s_a[first]) - side * STEP_M, float(s_a[last])))
    low, high = max(low, range_a_m[0]), min(high, range_a_m[1])
    chosen = (side * rows >= side * first) & (side * rows <= side * last)
    others, half = s_b[np.unique(columns[chosen])], STEP_M / 2
    proven = len(overlapping) > 0
    for _ in range(LEVELS):
        if proven and high - low <= ZONE_M:
            break
        stations = np.linspace(low, high, ROWS)[::side]
        table = _separations(a, stations, b, others)
        least = table.min(axis=1)
        hit = np.flatnonzero(least <= 0.0)
        maybe = np.flatnonzero(least <= half * b.travel_ratio)
        if not len(maybe):
            return None
        proven = proven or len(hit) > 0
        to = int(hit[0]) if len(hit) else ROWS - 1
        since = max(min(int(maybe[0]), to) - 1, 0)
        if to == 0:
            return float(stations[0])
        low, high = sorted((float(stations[since]), float(stations[to])))
        # The stations of b that come nearest are looked at more closely, several at once: two
        # corners may arrive at almost the same station of a.
        nearest = others[np.argsort(table[since : to + 1].min(axis=0))[:KEPT]]
        finer = nearest[:, None] + half * OFFSETS
        others, half = np.clip(finer.reshape(-1), s_b[0], s_b[-1]), half / len(OFFSETS)
    if not proven:
        return None
    return low if side < 0 else high


def _separations(a: Figure, stations_a: Array, b: Figure, stations_b: Array) -> Array:
    """Give the separation for every pair of stations, shape (stations of a, stations of b)."""
    at_a, at_b = a.place(stations_a), b.place(stations_b)
    rows = np.repeat(np.arange(len(stations_a)), len(stations_b))
    columns = np.tile(np.arange(len(stations_b)), len(stations_a))
    gaps = separation_m(a, at_a.take(rows), b, at_b.take(columns))
    return np.asarray(gaps.reshape(len(stations_a), len(stations_b)))


def crossing_stations_m(path_a: Path, path_b: Path) -> tuple[float, float] | None:
    """Give the stations in m at which two paths cross: the nearest of dense samples, then tangents.

    None when the paths stay apart, or run along each other where they are nearest.
    """
    s_a, s_b = _samples((0.0, path_a.length_m)), _samples((0.0, path_b.length_m))
    p, q = path_a.pose(s_a), path_b.pose(s_b)
    apart = np.hypot(p.x_m[:, None] - q.x_m[None, :], p.y_m[:, None] - q.y_m[None, :])
    i, j = np.unravel_index(int(apart.argmin()), apart.shape)
    at_a, at_b = float(s_a[i]), float(s_b[j])
    for _ in range(TANGENTS):
        p, q = path_a.pose(np.array([at_a])), path_b.pose(np.array([at_b]))
        dx, dy = float(q.x_m[0] - p.x_m[0]), float(q.y_m[0] - p.y_m[0])
        if math.hypot(dx, dy) <= ZONE_M / 10:
            return at_a, at_b
        along_a, along_b = float(p.heading_rad[0]), float(q.heading_rad[0])
        turn = math.sin(along_b - along_a)
        if turn == 0.0:
            return None
        at_a += (dx * math.sin(along_b) - dy * math.cos(along_b)) / turn
        at_b += (dx * math.sin(along_a) - dy * math.cos(along_a)) / turn
    return None
