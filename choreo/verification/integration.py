"""A mover's motion integrated from its commanded acceleration, by quadrature.

The plan's stations and speeds are not used beyond the start mark: v is the integral of a
(trapezoids) and s the integral of v (Simpson), both exact where the command is linear, on a
clock that holds every boundary between pieces. On purpose it knows nothing of the cubic that the
solver and the tracks use (motion/cubic.py).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cached_property, lru_cache
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from choreo.verification.tolerances import CLOCK_S, REACHED, ROOT_S
from choreo.words.records import dataclass

Array = NDArray[np.float64]
Value = TypeVar("Value", float, Array)

# A bracket is cut in so many at once: two rounds of arrays find what ten halvings would. Where it is likely to lie they
# are ever shorter.
SECTIONS = 32
# So many motions are kept, for whoever asks for the same commands again: those of one run.
SAME_COMMANDS = 64
ROUND_A_GUESS = np.concatenate([sign * np.logspace(-9, -1, 17) for sign in (-1.0, 1.0)])


@dataclass(frozen=True, eq=False)
class Motion:
    """Integrated nodes of one mover; between nodes acceleration is linear and may jump at them.

    times_s, stations_m, speeds_mps: shape (n + 1,). accels_from_mps2, accels_to_mps2: at both
    ends of each interval, shape (n,). Before the first node it rolls on as it starts, after the
    last as it ended.
    """

    times_s: Array
    stations_m: Array
    speeds_mps: Array
    accels_from_mps2: Array
    accels_to_mps2: Array

    @property
    def launch_s(self) -> float:
        """Give the first node's time in s."""
        return float(self.times_s[0])

    @property
    def end_s(self) -> float:
        """Give the last node's time in s."""
        return float(self.times_s[-1])

    @cached_property
    def moves(self) -> bool:
        """Say whether it ever has a speed."""
        return bool(self.speeds_mps.any())

    def at(self, t_s: Array) -> tuple[Array, Array, Array]:
        """Give stations in m, speeds in m/s and accelerations in m/s2 at times t_s, shape (n,)."""
        t = np.asarray(t_s, dtype=np.float64)
        station, speed, accel = self._driven(t)
        inside = (t >= self.times_s[0]) & (t < self.times_s[-1])
        return station, speed, np.where(inside, accel, 0.0)

    def stations(self, t_s: Array) -> Array:
        """Give stations in m at times t_s, shape (n,)."""
        t = np.asarray(t_s, dtype=np.float64)
        return self._driven(t)[0] if self.moves else np.full(t.shape, self.stations_m[0])

    def _driven(self, t: Array) -> tuple[Array, Array, Array]:
        """Stations, speeds, and the accelerations of the nearest interval, which only hold inside."""
        index = self._inner.searchsorted(t, side="right")
        from_s, length, from_m, from_mps, a_0, change = self._nodes.take(index, axis=1)
        u = np.minimum(np.maximum(t - from_s, 0.0), length)
        a_u = a_0 + change * (u / length)
        station, speed = advance(from_m, from_mps, u, a_0, a_u)
        past = np.minimum(t - self.times_s[0], 0.0) + np.maximum(t - self.times_s[-1], 0.0)
        return station + past * speed, speed, a_u

    @cached_property
    def _nodes(self) -> Array:
        """Of every interval: its begin and length in s, station, speed, acceleration and its change; shape (6, n)."""
        return np.array(
            (
                self.times_s[:-1],
                np.diff(self.times_s),
                self.stations_m[:-1],
                self.speeds_mps[:-1],
                self.accels_from_mps2,
                self.accels_to_mps2 - self.accels_from_mps2,
            )
        )

    def state(self, t_s: float) -> tuple[float, float]:
        """Give station in m and speed in m/s at one time in s."""
        # A column as numbers: for one time arrays take longer.
        column: list[float] = self._nodes[:, self._inner.searchsorted(t_s, side="right")].tolist()
        from_s, length, from_m, from_mps, a_0, change = column
        u = min(max(t_s - from_s, 0.0), length)
        station, speed = advance(from_m, from_mps, u, a_0, a_0 + change * (u / length))
        past = min(t_s - self.launch_s, 0.0) + max(t_s - self.end_s, 0.0)
        return station + past * speed, speed

    @cached_property
    def _inner(self) -> Array:
        """The times of all nodes but the first and the last, between which intervals are told apart."""
        return self.times_s[1:-1]

    def time_at(self, station_m: float) -> float:
        """Give the first time in s at which a station in m is reached; inf when it never is."""
        beyond_m = self.stations_m[0] - station_m
        if beyond_m >= 0.0:
            rolling = self.speeds_mps[0]
            if not rolling:
                return self.launch_s if beyond_m <= REACHED else 0.0
            return float(self.launch_s - beyond_m / rolling)
        reached = np.flatnonzero(self.stations_m >= station_m)
        if not len(reached) and self.stations_m[-1] >= station_m - REACHED:
            return float(self.times_s[-1])
        if not len(reached):
            return np.inf
        after = int(reached[0])
        return first_reached(
            lambda t: self.stations(t) - station_m, self.times_s[after - 1], self.times_s[after]
        )


def integrate(
    start_m: float,
    start_mps: float,
    launch_s: float,
    durations_s: Sequence[float],
    accels_mps2: Sequence[float],
    jerks_mps3: Sequence[float],
) -> Motion:
    """Integrate pieces of linear acceleration one after another from a launch.

    durations_s, accels_mps2 (at each piece's start), jerks_mps3: one a piece. Pieces without
    duration are left out; with none left, it stands (or rolls on) where it starts. The very same commands, as planned
    and as performed, are integrated once.
    """
    pieces = tuple(zip(durations_s, accels_mps2, jerks_mps3, strict=True))
    return _integrated(start_m, start_mps, launch_s, pieces)


@lru_cache(maxsize=SAME_COMMANDS)
def _integrated(
    start_m: float, start_mps: float, launch_s: float, pieces: tuple[tuple[float, ...], ...]
) -> Motion:
    kept = [piece for piece in pieces if piece[0] > 0] or [(1.0, 0.0, 0.0)]
    table = np.array(kept, dtype=np.float64)
    level = (table[:, 1] == 0.0) & (table[:, 2] == 0.0)
    # A stretch without acceleration needs no clock: one step is exact and keeps long holds cheap.
    parts = np.where(level, 1, np.ceil(table[:, 0] / CLOCK_S)).astype(np.int64)
    piece = np.repeat(np.arange(len(table)), parts)
    number = np.arange(len(piece)) - np.repeat(np.cumsum(parts) - parts, parts)
    begins = np.concatenate(([0.0], np.cumsum(table[:-1, 0])))
    step = table[piece, 0] / parts[piece]
    a_from = table[piece, 1] + table[piece, 2] * (number * step)
    a_to = table[piece, 1] + table[piece, 2] * ((number + 1) * step)
    times = launch_s + np.append(begins[piece] + number * step, begins[-1] + table[-1, 0])
    speeds = start_mps + np.concatenate(([0.0], np.cumsum(step * (a_from + a_to) / 2)))
    moved, _ = advance(np.zeros(len(step)), speeds[:-1], step, a_from, a_to)
    stations = start_m + np.concatenate(([0.0], np.cumsum(moved)))
    return Motion(times, stations, speeds, a_from, a_to)


def evenly(low: float, high: float, parts: int) -> Array:
    """Give both ends and the places between them that cut an interval in so many parts, shape (parts + 1,).

    As np.linspace gives them, which takes as long as the rest of a search does.
    """
    found = np.arange(parts + 1, dtype=np.float64)
    found *= (high - low) / parts
    found += low
    found[-1] = high
    return found


def first_reached(value: Callable[[Array], Array], before: float, after: float) -> float:
    """Bracket the first instant at which a value is no longer negative, between one where it is and one where it isn't.

    before, after: times in s. value takes times of shape (n,) and gives as many. Returns the later end of the bracket.
    """
    times = evenly(before, after, SECTIONS)
    while after - before > ROOT_S * max(1.0, abs(after)):
        found = value(times)
        reached = found[1:-1] >= 0.0
        first = int(reached.argmax()) + 1 if reached.any() else len(times) - 1
        before, after = float(times[first - 1]), float(times[first])
        times = evenly(before, after, SECTIONS)
        rise = found[first] - found[first - 1]
        if rise > 0.0 and np.isfinite(rise):
            # Where a straight line would reach it, and ever nearer to that.
            guess = before - (after - before) * found[first - 1] / rise
            near = guess + (after - before) * ROUND_A_GUESS
            inner = near[(near > before) & (near < after)]
            times = np.sort(np.concatenate((times, inner)))
    return after


def advance(station: Value, speed: Value, u: Value, a_0: Value, a_u: Value) -> tuple[Value, Value]:
    """Give station in m and speed in m/s, each a number or of shape (n,), u seconds later.

    Acceleration goes linearly from a_0 to a_u meanwhile (Simpson for the way).
    """
    end_speed = speed + u * (a_0 + a_u) / 2
    half_speed = speed + u / 2 * (a_0 + (a_0 + a_u) / 2) / 2
    return station + u / 6 * (speed + 4 * half_speed + end_speed), end_speed
