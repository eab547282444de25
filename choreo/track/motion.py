"""A mover's planned motion along its path: where it is and how fast, at one time or at many."""

from __future__ import annotations

from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from choreo.motion.cubic import gained, travelled
from choreo.plans.record import MoverPlan
from choreo.words.records import dataclass

Array = NDArray[np.float64]
Index = NDArray[np.int64]

# What is slower than this (m/s) stands: the solver and rounding leave such speeds.
STANDS_MPS = 1e-6


@dataclass(frozen=True, slots=True)
class State:
    """A mover at one moment."""

    station_m: float
    speed_mps: float
    accel_mps2: float


@dataclass(frozen=True, eq=False)
class PlannedMotion:
    """One mover's motion by plan; stations in m, times in s after go.

    pieces: of constant jerk, without holes, rows (start, duration, station, speed, acceleration, jerk) in SI, shape
    (n, 6); none for a mover that only stands. Before its first piece it stands, or rolls at start_mps.
    """

    start_m: float
    start_mps: float
    pieces: Array

    @property
    def moves(self) -> bool:
        """Say whether it ever has a speed."""
        return len(self.pieces) > 0

    @cached_property
    def end_s(self) -> float:
        """When its last piece ends; 0 for a mover that only stands."""
        return float(self.pieces[-1, 0] + self.pieces[-1, 1]) if self.moves else 0.0

    def states(self, t_s: Array) -> tuple[Array, Array]:
        """Give stations in m and speeds in m/s at times t_s, shape (n,)."""
        if not self.moves:
            return np.full(t_s.shape, self.start_m), np.zeros(t_s.shape)
        start, duration, station, speed, accel, jerk = self._pieces_at(t_s).T
        into = np.minimum(np.maximum(t_s - start, 0.0), duration)
        s = station + travelled(into, speed, accel, jerk)
        v = np.maximum(speed + gained(into, accel, jerk), 0.0)
        early = np.minimum(t_s - self.pieces[0, 0], 0.0)
        late = np.maximum(t_s - self.end_s, 0.0)
        v = np.where((late > 0.0) & (v <= STANDS_MPS), 0.0, v)
        return s + early * self.start_mps + late * v, v

    def state(self, t_s: float) -> State:
        """Give station, speed and acceleration at one time t_s."""
        at = np.array([t_s])
        (station,), (speed,) = self.states(at)
        accel = 0.0
        if self.moves and self.pieces[0, 0] <= t_s <= self.end_s:
            start, _, _, _, first, jerk = self._pieces_at(at)[0]
            accel = first + (t_s - start) * jerk
        return State(float(station), float(speed), float(accel))

    def most_accel(self, from_s: Array, until_s: Array) -> Array:
        """Give a bound of |acceleration| along the path in m/s2 between times, shape (n,)."""
        return most_between(self._accels, from_s, until_s)

    def _pieces_at(self, t_s: Array) -> Array:
        index = np.searchsorted(self.pieces[:, 0], t_s, side="right") - 1
        return np.asarray(self.pieces.take(np.maximum(index, 0), axis=0))

    @cached_property
    def _accels(self) -> tuple[Array, Array, Array]:
        """When parts begin and end, and the largest |acceleration| in each: before, in every piece, after."""
        rows = self.pieces
        after = np.abs(rows[:, 4] + rows[:, 5] * rows[:, 1])
        most = np.concatenate(([0.0], np.maximum(np.abs(rows[:, 4]), after), [0.0]))
        begins = np.concatenate(([-np.inf], rows[:, 0], [self.end_s]))
        launch = rows[:1, 0] if self.moves else [0.0]
        ends = np.concatenate((launch, rows[:, 0] + rows[:, 1], [np.inf]))
        return begins, ends, most


def motion_of(planned: MoverPlan) -> PlannedMotion:
    """Take a mover's motion from its plan."""
    rows = [
        (p.start_s, p.duration_s, p.station_m, p.speed_mps, p.accel_mps2, p.jerk_mps3)
        for p in planned.pieces
    ]
    pieces = np.array(rows, dtype=float).reshape(-1, 6)
    return PlannedMotion(planned.start.station_m, planned.start.speed_mps, pieces)


def most_between(parts: tuple[Array, Array, Array], low: Array, high: Array) -> Array:
    """Give the largest value of the parts (begins, ends, values) that touch [low, high], shape (n,).

    parts: rising and without holes, each of shape (m,). low, high: shape (n,), low at most high.
    """
    begins, ends, most = parts
    if not most.any():
        return np.zeros(len(low))
    pairs = np.empty(2 * len(low), dtype=np.int64)
    first = np.minimum(np.searchsorted(ends, low, side="left"), len(most) - 1)
    last = np.maximum(np.searchsorted(begins, high, side="right") - 1, first)
    pairs[::2], pairs[1::2] = first, last + 1
    return np.asarray(np.maximum.reduceat(np.append(most, 0.0), pairs)[::2])
