"""A planned motion with body and path: where the body is, and how fast any point of it can move."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property

import numpy as np

from choreo.geometry import Path, Poses, body_corners
from choreo.plans.record import MoverPlan, Plan
from choreo.scenario import Scenario
from choreo.track.motion import Array, Index, PlannedMotion, most_between, motion_of
from choreo.words.records import dataclass


@dataclass(frozen=True, eq=False)
class Track:
    """One mover's planned motion on its path; corners_m: its body, body frame, shape (c, 2)."""

    name: str
    path: Path
    corners_m: Array
    motion: PlannedMotion

    @property
    def moves(self) -> bool:
        """Say whether it ever has a speed."""
        return self.motion.moves

    @property
    def end_s(self) -> float:
        """When its motion ends, in s after go; 0 for a mover that only stands."""
        return self.motion.end_s

    @cached_property
    def radius_m(self) -> float:
        """How far the body's farthest corner is from the reference point."""
        return float(np.hypot(self.corners_m[:, 0], self.corners_m[:, 1]).max())

    def states(self, t_s: Array, _variant: Index | None = None) -> tuple[Array, Array]:
        """Give stations in m and speeds in m/s at times t_s, shape (n,)."""
        return self.motion.states(t_s)

    def poses(self, t_s: Array) -> Poses:
        """Give the poses of the reference point at times t_s, shape (n,)."""
        return self.path.pose(self.states(t_s)[0])

    def corners(self, t_s: Array) -> Array:
        """Give the body's corners in the site frame at times t_s, shape (n, c, 2), in m."""
        return body_corners(self.corners_m, self.poses(t_s))

    def most_bend(self, low_m: Array, high_m: Array) -> Array:
        """Give a bound of |curvature| in 1/m between stations low_m and high_m, shape (n,)."""
        return most_between(self._bends, low_m, high_m)

    def most_accel(self, from_s: Array, until_s: Array, _variant: Index | None = None) -> Array:
        """Give a bound of |acceleration| along the path in m/s2 between times, shape (n,)."""
        return self.motion.most_accel(from_s, until_s)

    @cached_property
    def _bends(self) -> tuple[Array, Array, Array]:
        """Where stretches of the path begin and end, and the largest |curvature| of each; straight before and after.

        Those of a closed path reach beyond every stop.
        """
        stretches = np.array(self.path.stretches(), dtype=float).reshape(-1, 4)
        begins = np.concatenate(([-np.inf], stretches[:, 0], stretches[-1:, 1]))
        ends = np.concatenate(([0.0], stretches[:, 1], [np.inf]))
        most = np.concatenate(([0.0], np.abs(stretches[:, 2:]).max(axis=1), [0.0]))
        return begins, ends, most


def track_of(name: str, planned: MoverPlan, path: Path, corners_m: Array) -> Track:
    """Make a track from a plan's pieces. corners_m: body frame, shape (c, 2), in m."""
    return Track(name, path, np.asarray(corners_m, dtype=float), motion_of(planned))


def tracks_of(scenario: Scenario, paths: Mapping[str, Path], plan: Plan) -> dict[str, Track]:
    """Make the tracks of a plan's movers. paths: by mover."""
    return {
        name: track_of(name, planned, paths[name], np.array(scenario.movers[name].body.corners_m))
        for name, planned in plan.movers.items()
    }
