"""Bumper to bumper in many runs: the end of one mover that faces another, projected on that one's path."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from choreo.errors.actors import Actor
from choreo.errors.motions import RunMotion
from choreo.errors.stage import Stage
from choreo.geometry import Path, Poses, gap_track, lap_of
from choreo.track.motion import motion_of
from choreo.words.records import dataclass

Floats = NDArray[np.float64]

# Rounds to the foot of the normal: each squares the error.
FEET = 5
LEAST_STRETCH = 0.1
EXACT_M = 1e-12


@dataclass(frozen=True, eq=False)
class Gaps:
    """The gap from one mover's front to another, near a planned state.

    facing_m: of the other's facing end, ahead of its reference point. near_m, slope: by plan, that end's station on the
    path of the first, and how it moves with the other's station, planned at at_m.
    """

    behind: Actor
    ahead: Actor
    facing_m: float
    near_m: float
    slope: float
    at_m: float

    @classmethod
    def planned(cls, stage: Stage, of: str, with_: str, time_s: float, gap_m: float) -> Gaps:
        """Set it up at the plan's state at time_s (s after go). gap_m: by plan; it says which lap's it is."""
        a, b = stage.actors[of], stage.actors[with_]
        there = motion_of(stage.plan.movers[with_]).state(time_s).station_m
        here = motion_of(stage.plan.movers[of]).state(time_s).station_m
        track = gap_track(a.path, a.mover.body, b.path, b.mover.body)
        near, slope = track.at(there)
        lap = lap_of(a.path)
        if lap is not None:
            near += lap * round((gap_m - (near - here - a.mover.body.front_m)) / lap)
        at_b = b.path.pose(np.array([there]))
        along = a.path.pose(np.array([near])).heading_rad
        same_way = float(np.cos(at_b.heading_rad - along)[0]) >= 0.0
        facing = -b.mover.body.rear_m if same_way else b.mover.body.front_m
        return cls(a, b, facing, near, slope, there)

    def measured(self, a: RunMotion, b: RunMotion, time_s: Floats) -> tuple[Floats, Floats, Floats]:
        """Give gap (m), closing and the first's speed (m/s) as both measure their positions, shape (runs,)."""
        return self._at(a, b, time_s, a.position_m, b.position_m)

    def true(self, a: RunMotion, b: RunMotion, time_s: Floats) -> tuple[Floats, Floats, Floats]:
        """Give gap (m), closing speed (m/s) and the first's speed (m/s) at times in s, each of shape (runs,)."""
        return self._at(a, b, time_s, 0.0, 0.0)

    def _at(
        self,
        a: RunMotion,
        b: RunMotion,
        time_s: Floats,
        off_a: Floats | float,
        off_b: Floats | float,
    ) -> tuple[Floats, Floats, Floats]:
        here, speed_a = a.states(time_s)
        there, speed_b = b.states(time_s)
        there = there + off_b
        beside = b.sideways.at(there, b.every)
        at = self.ahead.path.pose(there)
        cos, sin = np.cos(at.heading_rad), np.sin(at.heading_rad)
        x = at.x_m + self.facing_m * cos - beside * sin
        y = at.y_m + self.facing_m * sin + beside * cos
        station, left, foot = _feet(
            self.behind.path, x, y, self.near_m + self.slope * (there - self.at_m)
        )
        turned = at.heading_rad - foot.heading_rad
        turning = at.curvature_per_m * self.facing_m
        along = speed_b * (np.cos(turned) - turning * np.sin(turned))
        stretch = np.maximum(1.0 - left * foot.curvature_per_m, LEAST_STRETCH)
        gap = station - (here + off_a) - self.behind.mover.body.front_m
        return gap, speed_a - along / stretch, speed_a


def _feet(path: Path, x_m: Floats, y_m: Floats, station: Floats) -> tuple[Floats, Floats, Poses]:
    """Follow stations near points to the feet of normals; give them, how far left the points are, and the poses."""
    for _ in range(FEET):
        foot = path.pose(station)
        left, ahead = _beside(foot, x_m, y_m)
        step = ahead / np.maximum(1.0 - left * foot.curvature_per_m, LEAST_STRETCH)
        station = station + step
        if not (np.abs(step) > EXACT_M).any():
            return station, left, foot
    foot = path.pose(station)
    return station, _beside(foot, x_m, y_m)[0], foot


def _beside(foot: Poses, x_m: Floats, y_m: Floats) -> tuple[Floats, Floats]:
    """How far left and ahead of poses points are."""
    cos, sin = np.cos(foot.heading_rad), np.sin(foot.heading_rad)
    dx, dy = x_m - foot.x_m, y_m - foot.y_m
    return dy * cos - dx * sin, dx * cos + dy * sin
