"""Paths as few poses from which a page draws them again to a fraction of a pixel."""

from __future__ import annotations

import math

import numpy as np

from choreo.geometry import Path, cusps_of
from choreo.geometry.poses import Array
from choreo.page.tolerances import DRAWN_HEADING_RAD, DRAWN_M
from choreo.words.records import dataclass

# Samples begin this far apart and are halved, where they must be, down to about this; each gap is looked at there.
COARSE_M = 10.0
LEAST_STEP_M = 0.25
INSIDE = (0.25, 0.5, 0.75)


@dataclass(frozen=True, slots=True, eq=False)
class PathSamples:
    """Stations and poses in the site frame, each of shape (n,); between them see between().

    turns_m: stations among them at which the motion changes between along the heading and against it.
    """

    s_m: Array
    x_m: Array
    y_m: Array
    heading_rad: Array
    turns_m: tuple[float, ...] = ()


def sampled(path: Path, low_m: float, high_m: float) -> PathSamples:
    """Give poses dense enough that between() is off by less than the drawing tolerances.

    low_m, high_m: the stations to cover; beyond them a path is drawn on straight.
    """
    s = _first_stations(path, low_m, high_m)
    for _ in range(math.ceil(math.log2(COARSE_M / LEAST_STEP_M))):
        rough = _rough_intervals(path, s)
        if not rough.any():
            break
        s = np.sort(np.concatenate((s, (s[:-1] + s[1:])[rough] / 2)))
    poses = path.pose(s)
    return PathSamples(s, poses.x_m, poses.y_m, poses.heading_rad, cusps_of(path))


def _first_stations(path: Path, low_m: float, high_m: float) -> Array:
    """Even steps, and every place where the curvature may jump."""
    count = max(2, math.ceil((high_m - low_m) / COARSE_M) + 1)
    ends = [edge for start, end, *_ in path.stretches() for edge in (start, end)]
    if len(ends) > count * COARSE_M / LEAST_STEP_M:
        ends = []
    edges = np.clip(np.array([0.0, path.length_m, *cusps_of(path), *ends]), low_m, high_m)
    together = np.unique(np.concatenate((np.linspace(low_m, high_m, count), edges)))
    return together[np.concatenate(([True], np.diff(together) > DRAWN_M))]


def _rough_intervals(path: Path, s: Array) -> np.ndarray:
    at = path.pose(s)
    samples = PathSamples(s, at.x_m, at.y_m, at.heading_rad, cusps_of(path))
    rough = np.zeros(len(s) - 1, dtype=bool)
    for share in INSIDE:
        stations = s[:-1] + share * np.diff(s)
        true, drawn = path.pose(stations), between(samples, stations)
        off_m = np.hypot(true.x_m - drawn[0], true.y_m - drawn[1])
        rough |= (off_m > DRAWN_M) | (np.abs(true.heading_rad - drawn[2]) > DRAWN_HEADING_RAD)
    return rough


def between(samples: PathSamples, s_m: Array) -> tuple[Array, Array, Array]:
    """Give x, y (m) and heading (rad) at stations s_m, shape (n,), as the page works them out.

    Position: the cubic through both neighbours with the directions of motion there as unit tangents. Heading: linear.
    """
    index = np.clip(np.searchsorted(samples.s_m, s_m, "right") - 1, 0, len(samples.s_m) - 2)
    step = samples.s_m[index + 1] - samples.s_m[index]
    u = (s_m - samples.s_m[index]) / step
    start, end = samples.heading_rad[index], samples.heading_rad[index + 1]
    # Hermite's four weights: value and tangent at the start, value and tangent at the end.
    p0, m0 = (1 + 2 * u) * (1 - u) ** 2, u * (1 - u) ** 2 * step
    p1, m1 = u**2 * (3 - 2 * u), u**2 * (u - 1) * step
    middle = samples.s_m[index] + step / 2
    left = np.sum(np.greater.outer(np.array(samples.turns_m), middle), axis=0)
    m0, m1 = (one * (-1.0) ** left for one in (m0, m1))
    x = (
        p0 * samples.x_m[index]
        + m0 * np.cos(start)
        + p1 * samples.x_m[index + 1]
        + m1 * np.cos(end)
    )
    y = (
        p0 * samples.y_m[index]
        + m0 * np.sin(start)
        + p1 * samples.y_m[index + 1]
        + m1 * np.sin(end)
    )
    return x, y, start + u * (end - start)
