"""What a path is to everybody else: stations in, poses out."""

from __future__ import annotations

from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from choreo.words.records import dataclass

Array = NDArray[np.float64]
Stretch = tuple[float, float, float, float]
# One pose as numbers: x and y in m, heading in rad, curvature in 1/m.
Pose = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Poses:
    """Poses in the site frame, each array of shape (n,); heading is continuous (not wrapped)."""

    x_m: Array
    y_m: Array
    heading_rad: Array
    curvature_per_m: Array

    def at(self, which: slice | NDArray[np.bool_]) -> Poses:
        """Give some of the poses: which: a slice, or shape (n,)."""
        return Poses(
            self.x_m[which],
            self.y_m[which],
            self.heading_rad[which],
            self.curvature_per_m[which],
        )


class Path(Protocol):
    """A planar curve by arc length; beyond both ends it goes on straight (curvature 0 there).

    What is known of a path is remembered by the very object.
    """

    def __hash__(self) -> int:
        """Tell it from other paths."""

    @property
    def length_m(self) -> float:
        """Arc length from station 0 to the end, in m."""

    @property
    def marks(self) -> dict[str, tuple[float, float]]:
        """Start and end station in m of every named piece."""

    def pose(self, s_m: Array) -> Poses:
        """Give the poses at stations s_m, shape (n,), in m; outside [0, length] extrapolated."""

    def pose_at(self, s_m: float) -> Pose:
        """Give the pose at one station in m, as pose does: for one, arrays take longer than numbers."""

    def stretches(self) -> tuple[Stretch, ...]:
        """Give (start_m, end_m, start curvature, end curvature): linear in between, in 1/m.

        Never below the true magnitude; exact where the path is made of lines, arcs and clothoids.
        """

    def nearest(self, x_m: float, y_m: float, near_m: float | None = None) -> float:
        """Give the station in m whose point is nearest to (x_m, y_m), beyond the ends too.

        near_m: of several local nearest points take the one whose station is closest to this.
        """


class PosedInArrays:
    """What a path has that gives one pose as it gives many."""

    def pose_at(self: Path, s_m: float) -> Pose:
        """Give the pose at one station in m."""
        poses = self.pose(np.array([s_m]))
        return (
            float(poses.x_m[0]),
            float(poses.y_m[0]),
            float(poses.heading_rad[0]),
            float(poses.curvature_per_m[0]),
        )
