"""Bumper to bumper: the end of one mover that faces another, projected on that one's path."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from choreo.geometry.bodies import Outline
from choreo.geometry.poses import Path


@dataclass(frozen=True)
class GapTrack:
    """The facing end of b on the path of a; gap = that station - (station of a + front of a)."""

    path_a: Path
    path_b: Path
    front_b_m: float
    rear_b_m: float

    def at(self, station_b_m: float) -> tuple[float, float]:
        """Give the station in m on a's path of b's facing end, and its slope over b's station.

        station_b_m: of b's reference point. b's rear faces a where both go the same way, its front
        where they come towards each other. The end is projected on the nearest point of a's path; on one path for both,
        which may pass a place several times, on that of b's own pass.
        """
        at_b = self.path_b.pose(np.array([station_b_m]))
        x, y, heading = float(at_b.x_m[0]), float(at_b.y_m[0]), float(at_b.heading_rad[0])
        one_path = self.path_a is self.path_b
        beside = self.path_a.nearest(x, y, station_b_m if one_path else None)
        along = float(self.path_a.pose(np.array([beside])).heading_rad[0])
        ahead = -self.rear_b_m if math.cos(heading - along) >= 0.0 else self.front_b_m
        x, y = x + ahead * math.cos(heading), y + ahead * math.sin(heading)
        station = self.path_a.nearest(x, y, beside)
        foot = self.path_a.pose(np.array([station]))
        along = float(foot.heading_rad[0])
        left = (y - float(foot.y_m[0])) * math.cos(along) - (x - float(foot.x_m[0])) * math.sin(
            along
        )
        # Velocity of a rigid body's point: forward, and sideways by its turning.
        turning = float(at_b.curvature_per_m[0]) * ahead
        forward = math.cos(heading - along) - turning * math.sin(heading - along)
        return station, forward / (1.0 - left * float(foot.curvature_per_m[0]))


def gap_track(path_a: Path, body_a: Outline, path_b: Path, body_b: Outline) -> GapTrack:
    """Give where b's end that faces a lies along a's path, as a function of b's station.

    path_a, body_a: of the mover who measures; path_b, body_b: of the one ahead or coming towards.
    Holds in one lane, in parallel lanes, in a change of lanes and head-on.
    """
    return GapTrack(path_a, path_b, body_b.front_m, body_b.rear_m)
