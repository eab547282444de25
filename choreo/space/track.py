"""A mover's planned motion as body and path: where it is, how fast, and how fast any point of it can move.

Stops and other departures from the plan are the same motion cut at an instant: from there on it brakes
at a constant rate to rest (or, at a rate of 0, holds its speed).
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from choreo.geometry import Path, Poses, body_corners
from choreo.plan.record import MoverPlan

Array = NDArray[np.float64]
Index = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Track:
    """One mover's planned motion; stations in m, times in s after go.

    corners_m: body frame, shape (c, 2). reach_m: farthest corner from the reference point.
    most_accel_mps2: no acceleration along the path is larger.
    """

    name: str
    path: Path
    corners_m: Array
    start_m: float
    start_mps: float
    launch_s: float
    pieces: Array  # rows (start, duration, station, speed, acceleration, jerk)
    reach_m: float = field(init=False)
    most_accel_mps2: float = field(init=False)
    end_s: float = field(init=False)
    _bends: tuple[Array, Array, Array] = field(init=False)

    def __post_init__(self) -> None:
        rows = self.pieces
        reach = float(np.hypot(self.corners_m[:, 0], self.corners_m[:, 1]).max())
        ends = np.abs(rows[:, 4] + rows[:, 5] * rows[:, 1])
        accel = np.maximum(np.abs(rows[:, 4]), ends).max() if len(rows) else 0.0
        end = float(rows[-1, 0] + rows[-1, 1]) if len(rows) else 0.0
        stretches = np.array(self.path.stretches(), dtype=float).reshape(-1, 4)
        starts = np.concatenate(([-np.inf], stretches[:, 0], [self.path.length_m]))
        ends_m = np.concatenate(([0.0], stretches[:, 1], [np.inf]))
        most = np.concatenate(([0.0], np.abs(stretches[:, 2:]).max(axis=1), [0.0]))
        object.__setattr__(self, "reach_m", reach)
        object.__setattr__(self, "most_accel_mps2", float(accel))
        object.__setattr__(self, "end_s", end)
        object.__setattr__(self, "_bends", (starts, ends_m, most))

    @property
    def moves(self) -> bool:
        """Say whether it ever has a speed."""
        return len(self.pieces) > 0

    def states(self, t_s: Array, _case: Index | None = None) -> tuple[Array, Array]:
        """Give stations in m and speeds in m/s at times t_s, shape (n,)."""
        if not self.moves:
            return np.full(t_s.shape, self.start_m), np.zeros(t_s.shape)
        rows = self.pieces
        index = np.clip(np.searchsorted(rows[:, 0], t_s, side="right") - 1, 0, len(rows) - 1)
        start, duration, station, speed, accel, jerk = rows[index].T
        u = np.clip(t_s - start, 0.0, duration)
        s = station + u * (speed + u * (accel / 2 + u * jerk / 6))
        v = speed + u * (accel + u * jerk / 2)
        early = np.minimum(t_s - rows[0, 0], 0.0)
        late = np.maximum(t_s - self.end_s, 0.0)
        v = np.maximum(v, 0.0)
        return s + early * self.start_mps + late * v, v

    def poses(self, t_s: Array) -> Poses:
        """Give the poses of the reference point at times t_s, shape (n,)."""
        return self.path.pose(self.states(t_s)[0])

    def corners(self, t_s: Array) -> Array:
        """Give the body's corners in the site frame at times t_s, shape (n, c, 2), in m."""
        return body_corners(self.corners_m, self.poses(t_s))

    def most_bend(self, low_m: Array, high_m: Array) -> Array:
        """Give a bound of |curvature| in 1/m between stations low_m and high_m, shape (n,)."""
        starts, ends, most = self._bends
        first = np.clip(np.searchsorted(ends, low_m, side="left"), 0, len(most) - 1)
        last = np.clip(np.searchsorted(starts, high_m, side="right") - 1, first, len(most) - 1)
        pairs = np.stack((first, last + 1), axis=1).ravel()
        padded = np.append(most, 0.0)
        return np.asarray(np.maximum.reduceat(padded, pairs)[::2])


@dataclass(frozen=True, eq=False)
class CutTrack:
    """A track that leaves its plan at an instant a case; cases are numbered from 0.

    cut_s: shape (k,), when it leaves the plan. rate_mps2: from there on it brakes with this to rest; 0: it
    holds the speed that it has.
    """

    track: Track
    cut_s: Array
    rate_mps2: float
    _cut_m: Array = field(init=False)
    _cut_mps: Array = field(init=False)

    def __post_init__(self) -> None:
        station, speed = self.track.states(self.cut_s)
        object.__setattr__(self, "_cut_m", station)
        object.__setattr__(self, "_cut_mps", speed)

    @property
    def most_accel_mps2(self) -> float:
        """Give a bound of the acceleration along the path in m/s2."""
        return max(self.track.most_accel_mps2, self.rate_mps2)

    def states(self, t_s: Array, case: Index | None = None) -> tuple[Array, Array]:
        """Give stations in m and speeds in m/s at times t_s of the cases numbered case, shape (n,)."""
        which = np.zeros(t_s.shape, dtype=np.int64) if case is None else case
        cut = self.cut_s[which]
        station, speed = self.track.states(np.minimum(t_s, cut))
        since = np.maximum(t_s - cut, 0.0)
        v = self._cut_mps[which]
        if self.rate_mps2 > 0:
            since = np.minimum(since, v / self.rate_mps2)
        moved = since * (v - since * self.rate_mps2 / 2)
        late = t_s > cut
        return (
            np.where(late, self._cut_m[which] + moved, station),
            np.where(late, np.maximum(v - self.rate_mps2 * since, 0.0), speed),
        )

    def rest_s(self) -> Array:
        """Give when each case has come to rest, shape (k,); inf for one that holds a speed."""
        with np.errstate(divide="ignore", invalid="ignore"):
            way = np.where(self._cut_mps > 0, self._cut_mps / self.rate_mps2, 0.0)
        return self.cut_s + way


def track_of(name: str, planned: MoverPlan, path: Path, corners_m: Array) -> Track:
    """Make a track from a plan's pieces. corners_m: body frame, shape (c, 2), in m."""
    rows = [
        (p.start_s, p.duration_s, p.station_m, p.speed_mps, p.accel_mps2, p.jerk_mps3)
        for p in planned.pieces
    ]
    return Track(
        name,
        path,
        np.asarray(corners_m, dtype=float),
        planned.start.station_m,
        planned.start.speed_mps,
        planned.launch_s,
        np.array(rows, dtype=float).reshape(-1, 6),
    )
