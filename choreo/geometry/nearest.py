"""The station of a path that is nearest to a point."""

from __future__ import annotations

import math
from collections.abc import Iterator

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
        # Both ends, where it goes on straight, with the direction away from the path; none of a closed one.
        ends = ((0.0, -1.0), (length, 1.0)) if lap_m is None else ()
        self._ends = [(station, sign, path.pose_at(station)) for station, sign in ends]

    def station(self, x_m: float, y_m: float, near_m: float | None = None) -> float:
        """Give the nearest station in m to a point; near_m chooses among local nearest ones."""
        squared = self._squared(x_m, y_m)
        if near_m is None:
            return self._foot(x_m, y_m, self._best(x_m, y_m, squared))
        starts = self._local(x_m, y_m, squared)
        feet = np.array([self._foot(x_m, y_m, start) for start in starts])
        if self._lap_m is not None:
            feet = feet + self._lap_m * np.round((near_m - feet) / self._lap_m)
        return float(feet[np.abs(feet - near_m).argmin()])

    def _squared(self, x_m: float, y_m: float) -> Array:
        """Squares of the distances in m between a point and all samples."""
        dx, dy = self._poses.x_m - x_m, self._poses.y_m - y_m
        return np.asarray(dx * dx + dy * dy)

    def _best(self, x_m: float, y_m: float, squared: Array) -> float:
        """The sample nearest to a point, or where it is beside the straight beyond an end."""
        best = int(squared.argmin())
        start, least = float(self._stations[best]), float(squared[best])
        for station, ahead, left in self._past(x_m, y_m):
            if left * left < least:
                start, least = station + ahead, left * left
        return start

    def _local(self, x_m: float, y_m: float, squared: Array) -> list[float]:
        """Start stations round every local least distance, the straights beyond the ends included."""
        if self._lap_m is None:
            padded = np.concatenate(([np.inf], squared, [np.inf]))
        else:
            padded = np.concatenate((squared[-2:-1], squared, squared[1:2]))
        low = (padded[1:-1] <= padded[:-2]) & (padded[1:-1] <= padded[2:])
        found: list[float] = self._stations[low].tolist()
        return found + [station + ahead for station, ahead, _ in self._past(x_m, y_m)]

    def _past(self, x_m: float, y_m: float) -> Iterator[tuple[float, float, float]]:
        """Of the ends that a point lies beyond the station, how far along it lies there, and how far left."""
        for station, sign, (x, y, heading, _) in self._ends:
            cos, sin = math.cos(heading), math.sin(heading)
            ahead = (x_m - x) * cos + (y_m - y) * sin
            if sign * ahead > 0.0:
                left = (y_m - y) * cos - (x_m - x) * sin
                yield station, ahead, left

    def _foot(self, x_m: float, y_m: float, start_m: float) -> float:
        """Newton's way to the foot of the normal; numbers, as arrays take longer for one point."""
        s = start_m
        for _ in range(ITERATIONS):
            x, y, heading, curvature = self._path.pose_at(s)
            dx, dy = x_m - x, y_m - y
            cos, sin = math.cos(heading), math.sin(heading)
            ahead, left = dx * cos + dy * sin, dy * cos - dx * sin
            step = ahead / max(1.0 - curvature * left, LEAST_STRETCH)
            s += step
            if abs(step) < ROOT_M:
                break
        return s
