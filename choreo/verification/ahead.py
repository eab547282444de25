"""What is between a watched mover and another over time, for triggers: many instants at once."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from choreo.geometry import Path, lap_of
from choreo.scenario import Body
from choreo.verification.integration import Motion
from choreo.verification.tolerances import GAP_CLOCK_S
from choreo.words.records import dataclass

Array = NDArray[np.float64]

# Stations are looked at this far apart (m), then the nearest is followed to the foot of the normal: each round squares
# the error, which begins below a part in ten of the least radius that anybody drives.
STEP_M = 0.5
FEET = 5
# Where the normals of a curve meet no foot is near; a step is lengthened by no more than this.
LEAST_STRETCH = 0.1
# Points whose nearest station is looked for at once.
MOST_AT_ONCE = 2000


@dataclass(frozen=True, eq=False)
class Ahead:
    """A mover's front, and the end of another body that faces it, along the path of the first."""

    path: Path
    body: Body
    motion: Motion
    other_path: Path
    other_body: Body
    other_motion: Motion
    one_path: bool = False

    @property
    def lap_m(self) -> float | None:
        """On a closed path the gap is some lap's, and goes on from one instant to the next."""
        return lap_of(self.path)

    def clock_s(self, from_s: float, until_s: float) -> Array:
        """Give times in s, shape (n,), between which the gap is looked at: every change of either motion among them."""
        steps = max(1, int(np.ceil((until_s - from_s) / GAP_CLOCK_S)))
        nodes = np.concatenate((self.motion.looks.times_s, self.other_motion.looks.times_s))
        inside = nodes[(nodes > from_s) & (nodes < until_s)]
        return np.unique(np.concatenate((np.linspace(from_s, until_s, steps + 1), inside)))

    def gap_m(self, t_s: Array) -> Array:
        """Give the gap in m at times t_s, both of shape (n,)."""
        there = self.other_motion.at(t_s)[0]
        at = self.other_path.pose(there)
        # One path for both may pass a place several times: the pass is that of the other's own station.
        one_path = self.one_path or self.path is self.other_path
        beside = there if one_path else self._stations(at.x_m, at.y_m)
        turned = at.heading_rad - self.path.pose(beside).heading_rad
        # The rear of one that goes the same way faces the mover, the front of one that comes towards it.
        facing = np.where(np.cos(turned) >= 0.0, -self.other_body.rear_m, self.other_body.front_m)
        x = at.x_m + facing * np.cos(at.heading_rad)
        y = at.y_m + facing * np.sin(at.heading_rad)
        end = self._feet(x, y, there + facing) if one_path else self._stations(x, y)
        gap = end - self.motion.at(t_s)[0] - self.body.front_m
        return gap if self.lap_m is None else np.asarray(np.unwrap(gap, period=self.lap_m))

    def _stations(self, x_m: Array, y_m: Array) -> Array:
        """Stations in m of the path nearest to points, shape (n,)."""
        parts = range(0, len(x_m), MOST_AT_ONCE)
        found = [self._nearest(x_m[i : i + MOST_AT_ONCE], y_m[i : i + MOST_AT_ONCE]) for i in parts]
        return np.asarray(np.concatenate(found))

    def _nearest(self, x_m: Array, y_m: Array) -> Array:
        if self.lap_m is not None:
            looks = np.linspace(0.0, self.lap_m, int(np.ceil(self.lap_m / STEP_M)) + 1)
            return self._feet(x_m, y_m, self._closest(x_m, y_m, looks))
        ends = self.path.pose(np.array([0.0, self.path.length_m]))
        away = np.hypot(x_m[:, None] - ends.x_m, y_m[:, None] - ends.y_m).min(axis=1).max()
        count = int(np.ceil((self.path.length_m + 2 * away) / STEP_M)) + 1
        looks = np.linspace(-away, self.path.length_m + away, count)
        return self._feet(x_m, y_m, self._closest(x_m, y_m, looks))

    def _closest(self, x_m: Array, y_m: Array, looks: Array) -> Array:
        poses = self.path.pose(looks)
        squares = (x_m[:, None] - poses.x_m) ** 2 + (y_m[:, None] - poses.y_m) ** 2
        return np.asarray(looks[squares.argmin(axis=1)])

    def _feet(self, x_m: Array, y_m: Array, station: Array) -> Array:
        """Follow stations near points to the feet of their normals, all of shape (n,)."""
        for _ in range(FEET):
            foot = self.path.pose(station)
            cos, sin = np.cos(foot.heading_rad), np.sin(foot.heading_rad)
            dx, dy = x_m - foot.x_m, y_m - foot.y_m
            left = dy * cos - dx * sin
            stretch = np.maximum(1.0 - left * foot.curvature_per_m, LEAST_STRETCH)
            station = station + (dx * cos + dy * sin) / stretch
        return station
