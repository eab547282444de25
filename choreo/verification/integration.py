"""A mover's motion integrated from its commanded acceleration, by quadrature.

The plan's stations and speeds are not used beyond the start mark: v is the integral of a
(trapezoids) and s the integral of v (Simpson), both exact where the command is linear, however
long that lasts. On purpose it knows nothing of the cubic that the solver and the tracks use
(motion/cubic.py).
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Callable, Sequence
from functools import cached_property, lru_cache, partial
from typing import NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from choreo.verification.closing import used_up
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


class Interval(NamedTuple):
    """Between two nodes: its begin and length in s, station, speed, acceleration there, and how much that changes."""

    from_s: float
    lasting_s: float
    station_m: float
    speed_mps: float
    accel_mps2: float
    change_mps2: float

    def after(self, u_s: float) -> tuple[float, float]:
        """Give station in m and speed in m/s so many seconds after its begin."""
        accel = self.accel_mps2
        accel_then = accel + self.change_mps2 * (u_s / self.lasting_s)
        return advance(self.station_m, self.speed_mps, u_s, accel, accel_then)

    def short_of(self, station_m: float, u_s: float) -> tuple[float, float]:
        """Give what is missing to a station in m so many seconds after its begin, and its slope in m/s."""
        reached_m, speed_mps = self.after(u_s)
        return station_m - reached_m, -speed_mps


@dataclass(frozen=True, slots=True, eq=False)
class Looks:
    """A motion on a clock that holds all its nodes: times in s and speeds in m/s then, shape (n + 1,).

    accels_from_mps2, accels_to_mps2: at both ends of each interval between them, shape (n,); linear in between.
    """

    times_s: Array
    speeds_mps: Array
    accels_from_mps2: Array
    accels_to_mps2: Array


@dataclass(frozen=True, eq=False)
class Motion:
    """Integrated nodes of one mover; between nodes acceleration is linear and may jump at them.

    intervals: one after another, each command one; a command that drives backwards is cut every CLOCK_S. last: time in
    s, station and speed at the last node. Before the first node it rolls on as it starts, after the last as it ended.
    """

    intervals: tuple[Interval, ...]
    last: tuple[float, float, float]

    @property
    def launch_s(self) -> float:
        """Give the first node's time in s."""
        return self.intervals[0].from_s

    @property
    def end_s(self) -> float:
        """Give the last node's time in s."""
        return self.last[0]

    @cached_property
    def times_s(self) -> Array:
        """The nodes' times, shape (n + 1,), as stations_m and speeds_mps."""
        return np.array([*(one.from_s for one in self.intervals), self.last[0]])

    @cached_property
    def stations_m(self) -> Array:
        """The nodes' stations."""
        return np.array([*(one.station_m for one in self.intervals), self.last[1]])

    @cached_property
    def speeds_mps(self) -> Array:
        """The nodes' speeds."""
        return np.array([*(one.speed_mps for one in self.intervals), self.last[2]])

    @cached_property
    def accels_from_mps2(self) -> Array:
        """Accelerations at the begins of intervals, shape (n,)."""
        return np.array([one.accel_mps2 for one in self.intervals])

    @cached_property
    def accels_to_mps2(self) -> Array:
        """Accelerations at the ends of intervals, shape (n,)."""
        return np.array([one.accel_mps2 + one.change_mps2 for one in self.intervals])

    @cached_property
    def moves(self) -> bool:
        """Say whether it ever has a speed."""
        return self.last[2] != 0.0 or any(
            one.speed_mps or one.accel_mps2 or one.change_mps2 for one in self.intervals
        )

    @cached_property
    def turns(self) -> tuple[tuple[float, float], ...]:
        """Times in s inside intervals at which acceleration passes zero, and the speeds there: it has peaks there."""
        found = []
        for one in self.intervals:
            accel, change = one.accel_mps2, one.change_mps2
            if accel * (accel + change) < 0.0:
                u = -one.lasting_s * accel / change
                found.append((one.from_s + u, one.after(u)[1]))
        return tuple(found)

    @cached_property
    def fastest_mps(self) -> float:
        """The greatest speed of all."""
        nodes = max(one.speed_mps for one in self.intervals)
        return max(nodes, self.last[2], *(speed for _, speed in self.turns))

    @cached_property
    def looks(self) -> Looks:
        """What it does on the clock: at all nodes, and every CLOCK_S where the speed changes."""
        begins, lasts, _, _, accels, changes = self._nodes
        level = (accels == 0.0) & (changes == 0.0)
        parts = np.where(level, 1, np.ceil(lasts / CLOCK_S)).astype(np.int64)
        which = np.repeat(np.arange(len(parts)), parts)
        number = np.arange(len(which)) - np.repeat(np.cumsum(parts) - parts, parts)
        change = changes[which] / parts[which]
        accel = accels[which] + change * number
        times = np.append(begins[which] + lasts[which] * number / parts[which], self.end_s)
        return Looks(times, self._driven(times)[1], accel, accel + change)

    def at(self, t_s: Array) -> tuple[Array, Array, Array]:
        """Give stations in m, speeds in m/s and accelerations in m/s2 at times t_s, shape (n,)."""
        t = np.asarray(t_s, dtype=np.float64)
        station, speed, accel = self._driven(t)
        inside = (t >= self.launch_s) & (t < self.end_s)
        return station, speed, np.where(inside, accel, 0.0)

    def stations(self, t_s: Array) -> Array:
        """Give stations in m at times t_s, shape (n,)."""
        t = np.asarray(t_s, dtype=np.float64)
        return self._driven(t)[0] if self.moves else np.full(t.shape, self.intervals[0].station_m)

    def states(self, t_s: Array) -> tuple[Array, Array]:
        """Give stations in m and speeds in m/s at times t_s, shape (n,)."""
        return self._driven(t_s)[:2]

    def _driven(self, t: Array) -> tuple[Array, Array, Array]:
        """Stations, speeds, and the accelerations of the nearest interval, which only hold inside."""
        index = self._inner.searchsorted(t, side="right")
        from_s, length, from_m, from_mps, a_0, change = self._nodes.take(index, axis=1)
        u = np.minimum(np.maximum(t - from_s, 0.0), length)
        a_u = a_0 + change * (u / length)
        station, speed = advance(from_m, from_mps, u, a_0, a_u)
        past = np.minimum(t - self.launch_s, 0.0) + np.maximum(t - self.end_s, 0.0)
        return station + past * speed, speed, a_u

    @cached_property
    def _nodes(self) -> Array:
        """Of every interval: its begin and length in s, station, speed, acceleration and its change; shape (6, n)."""
        return np.array(self.intervals).T.copy()

    def state(self, t_s: float) -> tuple[float, float]:
        """Give station in m and speed in m/s at one time in s: for one time arrays take longer than numbers."""
        one = self.intervals[bisect_right(self._begins, t_s)]
        u_s = t_s - one.from_s
        if 0.0 <= u_s <= one.lasting_s:
            return one.after(u_s)
        station, speed = one.after(min(max(u_s, 0.0), one.lasting_s))
        past = min(t_s - self.launch_s, 0.0) + max(t_s - self.end_s, 0.0)
        return station + past * speed, speed

    @cached_property
    def _begins(self) -> list[float]:
        """The begins of all intervals but the first, by which they are told apart."""
        return [one.from_s for one in self.intervals[1:]]

    @cached_property
    def _inner(self) -> Array:
        """The same as an array."""
        return np.array(self._begins, dtype=np.float64)

    def time_at(self, station_m: float) -> float:
        """Give the first time in s at which a station in m is reached; inf when it never is."""
        first = self.intervals[0]
        beyond_m = first.station_m - station_m
        if beyond_m >= 0.0:
            if not first.speed_mps:
                return self.launch_s if beyond_m <= REACHED else 0.0
            return self.launch_s - beyond_m / first.speed_mps
        ends = [one.station_m for one in self.intervals[1:]]
        for one, end_m in zip(self.intervals, [*ends, self.last[1]], strict=True):
            if end_m >= station_m:
                return one.from_s + used_up(partial(one.short_of, station_m), one.lasting_s)
        return self.last[0] if self.last[1] >= station_m - REACHED else math.inf


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
    intervals: list[Interval] = []
    station, speed, elapsed = start_m, start_mps, 0.0
    for duration, accel, jerk in [piece for piece in pieces if piece[0] > 0] or [(1.0, 0.0, 0.0)]:
        forwards = _least_speed(speed, duration, accel, jerk) >= -REACHED
        parts = 1 if forwards else math.ceil(duration / CLOCK_S)
        step = duration / parts
        for number in range(parts):
            begins_s = launch_s + (elapsed + number * step)
            a_from, a_to = accel + jerk * (number * step), accel + jerk * ((number + 1) * step)
            intervals.append(Interval(begins_s, step, station, speed, a_from, a_to - a_from))
            station, speed = advance(station, speed, step, a_from, a_to)
        elapsed += duration
    return Motion(tuple(intervals), (launch_s + elapsed, station, speed))


def _least_speed(speed: float, duration: float, accel: float, jerk: float) -> float:
    """The least speed in m/s of a piece: at one of its ends, or where its acceleration passes zero from below."""
    least = min(speed, speed + duration * (accel + jerk * duration / 2))
    if accel < 0.0 < accel + jerk * duration:
        return min(least, speed - accel * accel / (2 * jerk))
    return least


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
