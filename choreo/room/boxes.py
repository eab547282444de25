"""Boxes that hold all that bodies sweep: pairs whose boxes are apart need no closer look."""

from __future__ import annotations

import numpy as np

from choreo.track.motion import Array
from choreo.track.tracks import Track
from choreo.track.variants import Moving
from choreo.words.records import dataclass

# A path is looked at this often (m), or so often if it is long. No point of it is farther than half a step of its
# length from a look.
STEP_M = 2.0
MOST_LOOKS = 500


@dataclass(frozen=True, slots=True, eq=False)
class Box:
    """The lowest and the highest x and y in m, shape (2,) each."""

    low_m: Array
    high_m: Array

    def apart_m(self, other: Box) -> float:
        """How far two boxes are apart; nothing that one holds is nearer to anything that the other holds."""
        gaps = np.maximum(self.low_m - other.high_m, other.low_m - self.high_m)
        return float(np.hypot(*np.maximum(gaps, 0.0)))


def box_of(moving: Moving, from_s: Array, until_s: Array) -> Box:
    """Give a box that holds a body over [from_s, until_s], of each variant, shape (k,): nobody goes backwards."""
    if isinstance(moving, Track):
        track = moving
        stations = track.states(np.array([from_s.min(), until_s.max()]))[0]
    else:
        track, variants = moving.track, np.arange(len(from_s))
        stations = np.append(
            moving.states(from_s, variants)[0], moving.states(until_s, variants)[0]
        )
    low_m, high_m = float(stations.min()), float(stations.max())
    count = int(min(np.ceil((high_m - low_m) / STEP_M), MOST_LOOKS)) + 1
    poses = track.path.pose(np.linspace(low_m, high_m, count))
    points = np.stack((poses.x_m, poses.y_m))
    around_m = track.radius_m + (high_m - low_m) / max(count - 1, 1) / 2.0
    return Box(points.min(axis=1) - around_m, points.max(axis=1) + around_m)
