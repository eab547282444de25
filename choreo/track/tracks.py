"""A mover's planned motion as body and path: where it is, how fast, and how fast any point of it can move.

Stops and other departures from the plan are the same motion cut at an instant: from there on it brakes
at a constant rate to rest (or, at a rate of 0, holds its speed).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from choreo.geometry import Path, Poses, body_corners
from choreo.motion.cubic import gained, travelled
from choreo.plans.record import MoverPlan, Plan
from choreo.scenario import Scenario

Array = NDArray[np.float64]
Index = NDArray[np.int64]
# What is slower than this (m/s) stands: rounding leaves such speeds.
STANDS_MPS = 1e-6


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
    end_s: float = field(init=False)
    _bends: tuple[Array, Array, Array] = field(init=False)
    _accels: tuple[Array, Array, Array] = field(init=False)

    def __post_init__(self) -> None:
        rows = self.pieces
        reach = float(np.hypot(self.corners_m[:, 0], self.corners_m[:, 1]).max())
        after = np.abs(rows[:, 4] + rows[:, 5] * rows[:, 1])
        accels = np.concatenate(([0.0], np.maximum(np.abs(rows[:, 4]), after), [0.0]))
        end = float(rows[-1, 0] + rows[-1, 1]) if len(rows) else 0.0
        stretches = np.array(self.path.stretches(), dtype=float).reshape(-1, 4)
        starts = np.concatenate(([-np.inf], stretches[:, 0], [self.path.length_m]))
        ends_m = np.concatenate(([0.0], stretches[:, 1], [np.inf]))
        most = np.concatenate(([0.0], np.abs(stretches[:, 2:]).max(axis=1), [0.0]))
        object.__setattr__(self, "reach_m", reach)
        begins = np.concatenate(([-np.inf], rows[:, 0], [end]))
        lasts = np.concatenate(
            (rows[:1, 0] if len(rows) else [0.0], rows[:, 0] + rows[:, 1], [np.inf])
        )
        object.__setattr__(self, "_accels", (begins, lasts, accels))
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
        s = station + travelled(u, speed, accel, jerk)
        v = speed + gained(u, accel, jerk)
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
        return _most_between(self._bends, low_m, high_m)

    def most_accel(self, from_s: Array, until_s: Array, _case: Index | None = None) -> Array:
        """Give a bound of |acceleration| along the path in m/s2 between times, shape (n,)."""
        return _most_between(self._accels, from_s, until_s)


def _most_between(parts: tuple[Array, Array, Array], low: Array, high: Array) -> Array:
    """Give the largest value of the parts (begins, ends, values) that touch [low, high], shape (n,)."""
    begins, ends, most = parts
    first = np.clip(np.searchsorted(ends, low, side="left"), 0, len(most) - 1)
    last = np.clip(np.searchsorted(begins, high, side="right") - 1, first, len(most) - 1)
    pairs = np.stack((first, last + 1), axis=1).ravel()
    return np.asarray(np.maximum.reduceat(np.append(most, 0.0), pairs)[::2])


@dataclass(frozen=True, eq=False)
class CutTrack:
    """A track that leaves its plan at an instant a case; cases are numbered from 0.

    cut_s: shape (k,), when it leaves the plan. From there on it holds its speed for hold_s, then brakes with rate_mps2
    to rest; at a rate of 0 it holds the speed that it has.
    """

    track: Track
    cut_s: Array
    rate_mps2: float
    hold_s: float = 0.0
    _cut_m: Array = field(init=False)
    _cut_mps: Array = field(init=False)

    def __post_init__(self) -> None:
        station, speed = self.track.states(self.cut_s)
        object.__setattr__(self, "_cut_m", station)
        object.__setattr__(self, "_cut_mps", speed)

    def most_accel(self, from_s: Array, until_s: Array, case: Index | None = None) -> Array:
        """Give a bound of |acceleration| along the path in m/s2 between times, shape (n,)."""
        which = np.zeros(from_s.shape, dtype=np.int64) if case is None else case
        cut = self.cut_s[which]
        planned = self.track.most_accel(np.minimum(from_s, cut), np.minimum(until_s, cut))
        rest = self.rest_s()[which]
        braking = (until_s > cut) & (from_s < rest)
        return np.maximum(
            np.where(from_s > cut, 0.0, planned), np.where(braking, self.rate_mps2, 0.0)
        )

    def states(self, t_s: Array, case: Index | None = None) -> tuple[Array, Array]:
        """Give stations in m and speeds in m/s at times t_s of the cases numbered case, shape (n,)."""
        which = np.zeros(t_s.shape, dtype=np.int64) if case is None else case
        cut = self.cut_s[which]
        station, speed = self.track.states(np.minimum(t_s, cut))
        v = self._cut_mps[which]
        since = np.maximum(t_s - cut, 0.0)
        held = np.minimum(since, self.hold_s) if self.rate_mps2 > 0 else since
        since = since - held
        if self.rate_mps2 > 0:
            since = np.minimum(since, v / self.rate_mps2)
        moved = v * held + since * (v - since * self.rate_mps2 / 2)
        late = t_s > cut
        return (
            np.where(late, self._cut_m[which] + moved, station),
            np.where(late, np.maximum(v - self.rate_mps2 * since, 0.0), speed),
        )

    def rest_s(self) -> Array:
        """Give when each case is at rest, or has come to the end of its path holding its speed, shape (k,)."""
        v = self._cut_mps
        moving = v > STANDS_MPS
        safe = np.where(moving, v, 1.0)
        if self.rate_mps2 > 0:
            way_s = self.hold_s + safe / self.rate_mps2
        else:
            way_s = np.maximum(self.track.path.length_m - self._cut_m, 0.0) / safe
        return np.where(moving, self.cut_s + way_s, np.minimum(self.cut_s, self.track.end_s))


@dataclass(frozen=True, eq=False)
class LateTrack:
    """A track whose plan from an instant on comes later (or earlier), a case; until then it goes on as it is.

    from_s: when the plan would go on; late_s: by how much it is later, shape (k,). It holds the speed that it has
    then for the time between: what waits stands, what holds rolls on.
    """

    track: Track
    from_s: float
    late_s: Array
    _held_mps: float = field(init=False)

    def __post_init__(self) -> None:
        _, speed = self.track.states(np.array([self.from_s]))
        object.__setattr__(self, "_held_mps", float(speed[0]))

    def most_accel(self, from_s: Array, until_s: Array, case: Index | None = None) -> Array:
        """Give a bound of |acceleration| along the path in m/s2 between times, shape (n,)."""
        which = np.zeros(from_s.shape, dtype=np.int64) if case is None else case
        late = np.maximum(self.late_s[which], 0.0), np.minimum(self.late_s[which], 0.0)
        # Its clock is somewhere between the time and the time less what it is late by.
        return self.track.most_accel(from_s - late[0], until_s - late[1])

    def states(self, t_s: Array, case: Index | None = None) -> tuple[Array, Array]:
        """Give stations in m and speeds in m/s at times t_s of the cases numbered case, shape (n,)."""
        which = np.zeros(t_s.shape, dtype=np.int64) if case is None else case
        late = self.late_s[which]
        # By its own clock it is late; while it waits the clock stands and it holds its speed.
        clock = np.where(
            t_s < self.from_s + np.minimum(late, 0.0),
            t_s,
            np.where(t_s < self.from_s + late, self.from_s, t_s - late),
        )
        station, speed = self.track.states(clock)
        return station + self._held_mps * (t_s - clock), speed

    def rest_s(self) -> Array:
        """Give when each case is at rest, or has come to the end of its path holding its speed, shape (k,)."""
        here = self.track.states(np.array([self.from_s]))[0][0]
        left_m = max(self.track.path.length_m - here, 0.0)
        never_s = self.from_s + (left_m / self._held_mps if self._held_mps > STANDS_MPS else 0.0)
        return np.minimum(self.track.end_s + self.late_s, max(never_s, self.track.end_s))


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


def tracks_of(scenario: Scenario, paths: Mapping[str, Path], plan: Plan) -> dict[str, Track]:
    """Make the tracks of a plan's movers. paths: by mover."""
    return {
        name: track_of(name, planned, paths[name], np.array(scenario.movers[name].body.corners_m))
        for name, planned in plan.movers.items()
    }
