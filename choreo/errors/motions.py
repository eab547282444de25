"""The motion of one mover in many runs at once: pieces of constant jerk, an array a piece.

Rows are pieces, columns are runs: shape (pieces, runs). A piece may last no time in some runs.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from choreo.motion.cubic import gained, travelled
from choreo.words.records import dataclass

Floats = NDArray[np.float64]
Rows = NDArray[np.intp]

# A time that is never reached (s): finite, so that differences stay numbers.
NEVER_S = 1e9
# Steps of a safeguarded Newton search, and when it is done: in the unit of what is looked for (m, m/s).
STEPS = 60
# Among more pieces than these the right one is searched by halving.
FEW = 16
EXACT = 1e-12
# What is less than this below zero (m, m/s) is reached.
REACHED = 1e-9


@dataclass(frozen=True, eq=False)
class Sideways:
    """How far beside its path a mover is: base_m (runs,), and what wanders at stations from first_m on, step_m apart.

    wander_m: shape (stations, runs), straight in between; None where nothing wanders.
    """

    base_m: Floats
    first_m: float = 0.0
    step_m: float = 1.0
    wander_m: Floats | None = None

    def at(self, station_m: Floats, rows: Rows) -> Floats:
        """Give the offset in m, left +, at stations of these runs, both of shape (n,)."""
        base = self.base_m[rows]
        if self.wander_m is None:
            return base
        along = np.clip((station_m - self.first_m) / self.step_m, 0.0, len(self.wander_m) - 1.001)
        node = along.astype(np.intp)
        low, high = self.wander_m[node, rows], self.wander_m[node + 1, rows]
        return np.asarray(base + low + (along - node) * (high - low))

    def extremes_m(self, from_m: Floats, until_m: Floats) -> tuple[Floats, Floats]:
        """Give the farthest right and left offset in m between two stations of each run, shape (runs,)."""
        if self.wander_m is None:
            return self.base_m, self.base_m
        every = np.arange(len(self.base_m))
        ends = np.stack((self.at(from_m, every), self.at(until_m, every)))
        nodes = self.first_m + self.step_m * np.arange(len(self.wander_m))[:, None]
        inside = (nodes >= from_m) & (nodes <= until_m)
        low = np.where(inside, self.wander_m, np.inf).min(axis=0) + self.base_m
        high = np.where(inside, self.wander_m, -np.inf).max(axis=0) + self.base_m
        return np.fmin(low, ends.min(axis=0)), np.fmax(high, ends.max(axis=0))

    @cached_property
    def most_m(self) -> Floats:
        """Give a bound of |offset| in m, shape (runs,)."""
        most = np.abs(self.base_m)
        return most if self.wander_m is None else most + np.abs(self.wander_m).max(axis=0)


@dataclass(frozen=True, eq=False)
class RunMotion:
    """Pieces in time order without holes, each array of shape (pieces, runs); s after go, SI.

    position_m: what the mover's own measurement is off by, shape (runs,). Before the first piece it stands at the
    station where that begins, after the last one it goes on as that ended.
    """

    start_s: Floats
    duration_s: Floats
    station_m: Floats
    speed_mps: Floats
    accel_mps2: Floats
    jerk_mps3: Floats
    sideways: Sideways
    position_m: Floats

    @property
    def runs(self) -> int:
        """How many runs there are."""
        return int(self.start_s.shape[1])

    @cached_property
    def every(self) -> Rows:
        """All runs by number."""
        return np.arange(self.runs)

    @cached_property
    def end_s(self) -> Floats:
        """When the last piece ends, shape (runs,)."""
        return np.asarray(self.start_s[-1] + self.duration_s[-1])

    @cached_property
    def end_station_m(self) -> Floats:
        """Where the last piece ends, shape (runs,)."""
        last = -1, self.every
        return np.asarray(
            self.station_m[last]
            + travelled(
                self.duration_s[last],
                self.speed_mps[last],
                self.accel_mps2[last],
                self.jerk_mps3[last],
            )
        )

    @cached_property
    def most_mps(self) -> Floats:
        """Give a bound of the speed in m/s, shape (runs,)."""
        # A parabola's peak is no farther above its chord than this; between pieces the speed goes on.
        bulge = (np.abs(self.jerk_mps3) * self.duration_s**2).max(axis=0) / 8.0
        return np.asarray(np.maximum(self.speed_mps.max(axis=0), self._last_mps) + bulge)

    @property
    def _last_mps(self) -> Floats:
        """The speed at the end, shape (runs,)."""
        end = gained(self.duration_s[-1], self.accel_mps2[-1], self.jerk_mps3[-1])
        return np.asarray(self.speed_mps[-1] + end)

    @cached_property
    def most_mps2(self) -> Floats:
        """Give the largest |acceleration| in m/s2, shape (runs,)."""
        ends = self.accel_mps2 + self.jerk_mps3 * self.duration_s
        return np.asarray(np.maximum(np.abs(self.accel_mps2), np.abs(ends)).max(axis=0))

    def extremes_mps(self, from_s: Floats, until_s: Floats) -> tuple[Floats, Floats]:
        """Give the least and greatest speed in m/s between two times of each run, shape (runs,); nan where none is."""
        since, till = from_s - self.start_s, until_s - self.start_s
        low = np.clip(since, 0.0, self.duration_s)
        high = np.clip(till, 0.0, self.duration_s)
        driven = (since <= self.duration_s) & (till >= 0.0) & (until_s >= from_s)
        # A speed may turn where its acceleration is zero.
        turns = np.where(
            self.jerk_mps3 == 0.0,
            low,
            -self.accel_mps2 / np.where(self.jerk_mps3 == 0.0, 1.0, self.jerk_mps3),
        )
        least, most = np.full(self.runs, np.inf), np.full(self.runs, -np.inf)
        for into in (low, high, np.clip(turns, low, high)):
            speeds = self.speed_mps + gained(into, self.accel_mps2, self.jerk_mps3)
            least = np.fmin(least, np.where(driven, speeds, np.inf).min(axis=0))
            most = np.fmax(most, np.where(driven, speeds, -np.inf).max(axis=0))
        beyond = (until_s > self.end_s) & (until_s >= from_s)
        least = np.where(beyond, np.fmin(least, self._last_mps), least)
        most = np.where(beyond, np.fmax(most, self._last_mps), most)
        known = least <= most
        return np.where(known, least, np.nan), np.where(known, most, np.nan)

    def states(self, t_s: Floats, rows: Rows | None = None) -> tuple[Floats, Floats]:
        """Give stations in m and speeds in m/s at times of these runs (all, left out), shape (n,)."""
        piece = self._piece_at(t_s, rows)
        rows = self.every if rows is None else rows
        first = int(piece[0]) if len(piece) else 0
        if (piece == first).all():  # views are quicker than picking
            found = (one[first] if rows is self.every else one[first, rows] for one in self.rows)
        else:
            at = piece * self.runs + rows
            found = (one.ravel().take(at) for one in self.rows)
        start, duration, station, speed, accel, jerk = found
        since = t_s - start
        u = np.minimum(np.maximum(since, 0.0), duration)
        late = np.maximum(since - duration, 0.0)
        now = speed + gained(u, accel, jerk)
        station = station + travelled(u, speed, accel, jerk) + late * now
        return station, np.where(since < 0.0, 0.0, now)

    def _piece_at(self, t_s: Floats, rows: Rows | None) -> Rows:
        """Which piece each of these runs is in at its time, shape (n,); the first before it begins."""
        count = len(self.start_s)
        if count <= FEW:
            starts = self.start_s if rows is None else self.start_s[:, rows]
            piece = np.full(t_s.shape, -1)
            for begins in starts:
                piece += t_s >= begins
            return np.asarray(np.maximum(piece, 0))
        rows = self.every if rows is None else rows
        flat = self.start_s.ravel()
        low = np.zeros(t_s.shape, dtype=np.intp)
        step = 1 << (count - 1).bit_length()
        while step := step >> 1:
            ahead = np.minimum(low + step, count - 1)
            low = np.where(flat.take(ahead * self.runs + rows) <= t_s, ahead, low)
        return low

    @property
    def rows(self) -> tuple[Floats, ...]:
        """Give all that a piece is, each of shape (pieces, runs)."""
        begins = self.start_s, self.duration_s, self.station_m
        return (*begins, self.speed_mps, self.accel_mps2, self.jerk_mps3)

    def time_at(self, station_m: Floats | float) -> Floats:
        """Give the first times in s at which stations are reached, shape (runs,); NEVER_S where they are not."""
        return self.first_s((1.0, 0.0), -station_m)

    def first_s(
        self,
        weights: tuple[Floats | float, Floats | float],
        offset: Floats | float,
        from_s: Floats | float = 0.0,
        until_s: Floats | float = NEVER_S,
    ) -> Floats:
        """Give the first times in s, shape (runs,), at which something that was negative before is zero or more.

        weights, offset: it is offset + weights[0] station + weights[1] speed, in m or m/s, each a number or of shape
        (runs,); it goes on from piece to piece. from_s, until_s: between which times, (runs,);
        what is reached already counts at from_s. Before the first piece it stands; beyond the last one nothing is
        looked for.
        """
        by_station, by_speed = weights
        values = offset + by_station * self.station_m
        if not isinstance(by_speed, float) or by_speed != 0.0:
            values += by_speed * self.speed_mps
        last = offset + by_station * self.end_station_m + by_speed * self._last_mps
        ends_s = np.concatenate((self.start_s[1:], self.end_s[None, :]))
        found = np.concatenate((values[1:], last[None, :])) >= -REACHED
        found &= ends_s >= from_s
        piece = np.argmax(found, axis=0)
        at = piece, self.every
        start, duration = self.start_s[at], self.duration_s[at]
        speed, accel, jerk = self.speed_mps[at], self.accel_mps2[at], self.jerk_mps3[at]
        course = (
            values[at],
            by_station * speed + by_speed * accel,
            by_station * accel / 2 + by_speed * jerk / 2,
            by_station * jerk / 6,
        )
        low = np.clip(from_s - start, 0.0, duration)
        time_s = np.where(found[at], start + _root(course, low, duration), NEVER_S)
        before = (values[0] >= -REACHED) & (from_s <= self.start_s[0])
        time_s = np.where(before, np.maximum(from_s, 0.0), time_s)
        return np.where(time_s <= until_s, time_s, NEVER_S)


class Reading:
    """A motion that is read at times that only grow, the same in all runs: each piece is looked up once."""

    def __init__(self, motion: RunMotion) -> None:
        self.motion = motion
        self.piece = np.zeros(motion.runs, dtype=np.intp)
        # Of the piece that each run is in: begin, lasting, station, speed, acceleration, jerk; and when it ends.
        self.now = np.empty((6, motion.runs))
        self.until_s = np.empty(motion.runs)
        self._look_up(motion.every)

    def at(self, t_s: float) -> tuple[Floats, Floats]:
        """Give stations in m and speeds in m/s at a time, each of shape (runs,)."""
        while self.first_until_s <= t_s:
            rows = np.flatnonzero(self.until_s <= t_s)
            self.piece[rows] += 1
            self._look_up(rows)
        start, duration, station, speed, accel, jerk = self.now
        since = t_s - start
        if self.all_begun_s <= t_s < self.first_end_s:  # every run is inside its piece
            if self.even:
                return station + since * (speed + since * (accel / 2)), speed + since * accel
            return station + travelled(since, speed, accel, jerk), speed + gained(
                since, accel, jerk
            )
        u = np.minimum(np.maximum(since, 0.0), duration)
        now = speed + gained(u, accel, jerk)
        station = station + travelled(u, speed, accel, jerk)
        station += np.where(since > duration, since - duration, 0.0) * now
        return station, np.where(since < 0.0, 0.0, now)

    def _look_up(self, rows: Rows) -> None:
        """Take the pieces of these runs."""
        motion = self.motion
        at = self.piece[rows] * motion.runs + rows
        for kept, one in zip(self.now, motion.rows, strict=True):
            kept[rows] = one.ravel().take(at)
        last = self.piece[rows] >= len(motion.start_s) - 1
        after = np.where(last, at, at + motion.runs)
        self.until_s[rows] = np.where(last, np.inf, motion.start_s.ravel().take(after))
        self.first_until_s = float(self.until_s.min())
        self.all_begun_s = float(self.now[0].max())
        self.first_end_s = float((self.now[0] + self.now[1]).min())
        self.even = not self.now[5].any()


def _polynomial(course: tuple[Floats, ...], u_s: Floats) -> Floats:
    return np.asarray(course[0] + u_s * (course[1] + u_s * (course[2] + u_s * course[3])))


def _root(course: tuple[Floats, Floats, Floats, Floats], low: Floats, high: Floats) -> Floats:
    """Where a cubic rises through zero between two times, all of shape (n,): Newton's steps inside a bracket."""
    at_low, at_high = _polynomial(course, low), _polynomial(course, high)
    climb = np.where(at_high > at_low, at_high - at_low, 1.0)
    u = low + (high - low) * np.clip(-at_low / climb, 0.0, 1.0)
    u = np.where(at_low >= 0.0, low, u)
    for _ in range(STEPS):
        value = _polynomial(course, u)
        open_ = np.abs(value) > EXACT
        open_ &= (high - low > EXACT) & (at_low < 0.0)
        if not open_.any():
            break
        high = np.where(value >= 0.0, u, high)
        low = np.where(value < 0.0, u, low)
        slope = course[1] + u * (2.0 * course[2] + u * 3.0 * course[3])
        step = np.where(slope > 0.0, value / np.where(slope > 0.0, slope, 1.0), np.inf)
        inside = (u - step > low) & (u - step < high)
        u = np.where(open_, np.where(inside, u - step, (low + high) / 2.0), u)
    return u
