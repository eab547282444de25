"""Recorded places -> stations along a planned path and how far beside it, and places freed of their samples' noise."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from choreo.geometry import Path, lap_of
from choreo.recordings.record import Floats, Track

# Points of a path among which the nearest is looked for (m apart, and at most), and how far beyond its ends.
POINT_M, MOST_POINTS, BEYOND_M = 0.5, 200_000, 100.0
# Steps to the foot on a path.
STEPS = 6
# Places are averaged over this long (s) against what the speed says.
AVERAGED_S = 0.5
# Headings over this long (s): bodies reach far from the point that they turn about.
TURNED_S = 0.2
# Who gets faster by this (m/s, and m/s2) from one sample to the next was struck: common practice, no source.
STRUCK_MPS, STRUCK_MPS2 = 1.0, 20.0


def stations_of(path: Path, x_m: Floats, y_m: Floats) -> tuple[Floats, Floats]:
    """Give stations in m and offsets beside the path (left +), each of shape (n,), of places; nan stays nan.

    On a closed path stations go on from lap to lap.
    """
    lap_m = lap_of(path)
    beyond = 0.0 if lap_m is not None else BEYOND_M
    count = min(int((path.length_m + 2 * beyond) / POINT_M) + 2, MOST_POINTS)
    points = np.linspace(-beyond, (lap_m or path.length_m) + beyond, count)
    poses = path.pose(points)
    known = np.isfinite(x_m) & np.isfinite(y_m)
    station = np.full(x_m.shape, np.nan)
    beside = np.full(x_m.shape, np.nan)
    if not known.any():
        return station, beside
    tree = cKDTree(np.stack((poses.x_m, poses.y_m), axis=1))
    x, y = x_m[known], y_m[known]
    at = points[tree.query(np.stack((x, y), axis=1))[1]]
    for _ in range(STEPS):
        foot = path.pose(at)
        cos, sin = np.cos(foot.heading_rad), np.sin(foot.heading_rad)
        dx, dy = x - foot.x_m, y - foot.y_m
        along, left = dx * cos + dy * sin, dy * cos - dx * sin
        at = at + np.clip(along / np.maximum(1.0 - foot.curvature_per_m * left, 0.2), -2.0, 2.0)
    foot = path.pose(at)
    cos, sin = np.cos(foot.heading_rad), np.sin(foot.heading_rad)
    if lap_m is not None:
        turns = np.round(np.diff(at, prepend=at[0]) / lap_m)
        at = at - lap_m * np.cumsum(turns)
    station[known] = at
    beside[known] = (y - foot.y_m) * cos - (x - foot.x_m) * sin
    return station, beside


def steadied(time_s: Floats, track: Track, points_rad: float) -> Track:
    """Free places, shape (n,), of their samples' noise: what speed and heading say between them is added up.

    points_rad: by how much the body points elsewhere than it drives.
    """
    way = track.heading_rad - points_rad
    steps = np.diff(time_s)
    vx, vy = (np.nan_to_num(track.speed_mps * turn) for turn in (np.cos(way), np.sin(way)))
    gone_x, gone_y = (
        np.concatenate(([0.0], np.cumsum(0.5 * (v[1:] + v[:-1]) * steps))) for v in (vx, vy)
    )
    over = max(round(AVERAGED_S / float(np.median(steps))), 1)
    faster = np.hypot(*(np.diff(track.speed_mps * turn) for turn in (np.cos(way), np.sin(way))))
    blows = np.flatnonzero(faster > np.maximum(STRUCK_MPS, STRUCK_MPS2 * steps)) + 1
    x = gone_x + _averaged_apart(track.x_m - gone_x, over, blows)
    y = gone_y + _averaged_apart(track.y_m - gone_y, over, blows)
    few = max(round(TURNED_S / float(np.median(steps))), 1)
    return replace(track, x_m=x, y_m=y, heading_rad=_averaged_apart(track.heading_rad, few, blows))


def _averaged_apart(values: Floats, over: int, blows: NDArray[np.int64]) -> Floats:
    """Moving averages in which no step at a blow (index of the first sample after it) reaches back before it."""
    if not len(blows):
        return averaged(values, over)
    reach = max(over // 2, 1)
    firsts = blows[np.concatenate(([True], np.diff(blows) > reach))]
    lasts = blows[np.concatenate((np.diff(blows) > reach, [True]))]
    step = np.zeros(len(values))
    for first, last in zip(firsts, lasts, strict=True):
        if last - first > reach:
            continue  # a speed that scatters as much all the time is noise
        before, after = values[max(first - reach, 0) : first], values[last : last + reach]
        if np.isfinite(before).any() and np.isfinite(after).any():
            step[first:] += np.nanmean(after) - np.nanmean(before)
    return averaged(values - step, over) + step


def averaged(values: Floats, over: int) -> Floats:
    """Give moving averages over so many samples, fewer at the ends and beside nan, shape (n,); nan stays nan."""
    known: NDArray[np.bool_] = np.isfinite(values)
    sums = np.concatenate(([0.0], np.cumsum(np.where(known, values, 0.0))))
    counts = np.concatenate(([0], np.cumsum(known)))
    index = np.arange(len(values))
    # Symmetrical everywhere: at an end a lopsided average would be of another moment.
    reach = np.minimum(np.minimum(index, len(values) - 1 - index), over // 2)
    low, high = index - reach, index + reach + 1
    count = counts[high] - counts[low]
    means = (sums[high] - sums[low]) / np.maximum(count, 1)
    return np.where(known, means, np.nan)
