"""The station of a path that is nearest to a point."""

from __future__ import annotations

import math

import numpy as np

from choreo.geometry.poses import Array, Path
from choreo.geometry.tolerances import ROOT_M

# Starts of Newton's way: far below the radius of any road, so that the nearest sample leads to the nearest point.
STEP_M = 1.0
# Newton's way is quadratic (three to six steps); where LEAST_STRETCH damps it, it takes longer.
ITERATIONS = 40
# A step is what lies ahead over 1 - curvature * offset, which vanishes at the centre of curvature: a step is at most
# five times what lies ahead.
LEAST_STRETCH = 0.2


class NearestSearch:
    """Samples of a path, and Newton's way from the best of them to the foot of the normal."""

    def __init__(self, path: Path, lap_m: float | None = None) -> None:
        """lap_m: of a closed path the length of a lap; stations are given in the first one then."""
        self._path = path
        self._lap_m = lap_m
        length = path.length_m if lap_m is None else lap_m
        count = max(2, math.ceil(length / STEP_M) + 1)
        self._stations = np.linspace(0.0, length, count)
        self._poses = path.pose(self._stations)

    def station(self, x_m: float, y_m: float, near_m: float | None = None) -> float:
        """Give the nearest station in m to a point; near_m chooses among local nearest ones."""
        x, y = np.array([x_m]), np.array([y_m])
        if near_m is None:
            return float(self.stations(x, y)[0])
        starts = self._local(x_m, y_m)
        feet = self._feet(np.full(len(starts), x_m), np.full(len(starts), y_m), starts)
        if self._lap_m is not None:
            feet = feet + self._lap_m * np.round((near_m - feet) / self._lap_m)
        return float(feet[np.abs(feet - near_m).argmin()])

    def stations(self, x_m: Array, y_m: Array) -> Array:
        """Give the nearest stations in m to points, shape (n,) each, in the site frame."""
        p = self._poses
        squared = (x_m[:, None] - p.x_m) ** 2 + (y_m[:, None] - p.y_m) ** 2
        best = squared.argmin(axis=1)
        starts, least = self._stations[best], squared[np.arange(len(x_m)), best]
        for end, sign in self._ends:
            ahead, left = self._beyond(end, x_m, y_m)
            nearer = (sign * ahead > 0.0) & (left**2 < least)
            starts = np.where(nearer, self._stations[end] + ahead, starts)
            least = np.where(nearer, left**2, least)
        return self._feet(x_m, y_m, starts)

    @property
    def _ends(self) -> tuple[tuple[int, float], ...]:
        """Both ends with the direction away from the path; none of a closed one."""
        return ((0, -1.0), (-1, 1.0)) if self._lap_m is None else ()

    def _beyond(self, end: int, x_m: Array, y_m: Array) -> tuple[Array, Array]:
        """Coordinates of points along and left of the straight beyond an end."""
        heading = float(self._poses.heading_rad[end])
        dx, dy = x_m - self._poses.x_m[end], y_m - self._poses.y_m[end]
        cos, sin = math.cos(heading), math.sin(heading)
        return dx * cos + dy * sin, dy * cos - dx * sin

    def _local(self, x_m: float, y_m: float) -> Array:
        """Start stations round every local least distance, the straights beyond the ends included."""
        p = self._poses
        squared = (x_m - p.x_m) ** 2 + (y_m - p.y_m) ** 2
        if self._lap_m is None:
            padded = np.concatenate(([np.inf], squared, [np.inf]))
        else:
            padded = np.concatenate((squared[-2:-1], squared, squared[1:2]))
        low = (padded[1:-1] <= padded[:-2]) & (padded[1:-1] <= padded[2:])
        starts = list(self._stations[low])
        for end, sign in self._ends:
            ahead = float(self._beyond(end, np.array([x_m]), np.array([y_m]))[0][0])
            if sign * ahead > 0.0:
                starts.append(float(self._stations[end]) + ahead)
        return np.array(starts)

    def _feet(self, x_m: Array, y_m: Array, starts_m: Array) -> Array:
        s = np.array(starts_m, dtype=float)
        for _ in range(ITERATIONS):
            p = self._path.pose(s)
            dx, dy = x_m - p.x_m, y_m - p.y_m
            cos, sin = np.cos(p.heading_rad), np.sin(p.heading_rad)
            ahead, left = dx * cos + dy * sin, dy * cos - dx * sin
            stretch = np.maximum(1.0 - p.curvature_per_m * left, LEAST_STRETCH)
            step = np.asarray(ahead / stretch)
            s = s + step
            if float(np.abs(step).max()) < ROOT_M:
                break
        return s
