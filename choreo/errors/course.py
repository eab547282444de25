"""A motion by plan, asked at many times at once, and when it is at stations."""

from __future__ import annotations

import math
from bisect import bisect_right
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from choreo.errors.motions import NEVER_S
from choreo.motion.cubic import gained, travelled
from choreo.plans.record import MoverPlan
from choreo.words.records import dataclass

Floats = NDArray[np.float64]

# What goes slower than this by plan (m/s) is taken to stand: no pace is read off it.
SLOW_MPS = 1e-3
# Below this speed by plan (m/s) progress is read off a table; above it by Newton's steps from the last.
STEADY_MPS = 1.0
# A table of the plan has a row so often (s); a station within so much (m) is the same one.
TABLE_S = 1e-3
SAME_M = 1e-7


@dataclass(frozen=True, eq=False)
class Course:
    """A motion by plan: rows of constant jerk from one time on, the first from ever, the last for ever."""

    from_s: tuple[float, ...]
    rows: tuple[tuple[float, float, float, float, float], ...]

    @staticmethod
    def of(plan: MoverPlan, until: int | None = None) -> Course:
        """Take it from a plan; until: of its phases only those up to this index, the last of which goes on for ever."""
        start = plan.start
        from_s, rows = [-math.inf], [(plan.launch_s, start.station_m, start.speed_mps, 0.0, 0.0)]
        end = rows[0]
        for piece in plan.pieces:
            if until is not None and (piece.phase_index or 0) > until:
                break
            from_s.append(piece.start_s)
            motion = (piece.station_m, piece.speed_mps, piece.accel_mps2, piece.jerk_mps3)
            rows.append((piece.start_s, *motion))
            lasting, (station, speed, accel, jerk) = piece.duration_s, motion
            end = (
                piece.start_s + lasting,
                station + travelled(lasting, speed, accel, jerk),
                speed + gained(lasting, accel, jerk),
                0.0,
                0.0,
            )
        return Course((*from_s, end[0]), (*rows, end))

    def at(self, time_s: Floats) -> tuple[Floats, Floats]:
        """Give stations in m and speeds in m/s at times of shape (n,); one speed that all hold has the shape ()."""
        return self.between(time_s, float(time_s.min()), float(time_s.max()))

    def between(self, time_s: Floats, first_s: float, last_s: float) -> tuple[Floats, Floats]:
        """Give the same where all times, of shape (n,), are known to lie from one to another."""
        low, high = (max(bisect_right(self.from_s, one) - 1, 0) for one in (first_s, last_s))
        station, speed = self._row(low, time_s)
        for row in range(low + 1, high + 1):
            later = time_s >= self.from_s[row]
            ahead = self._row(row, time_s)
            station, speed = np.where(later, ahead[0], station), np.where(later, ahead[1], speed)
        return station, speed

    def steady(self, time_s: float) -> tuple[float, float, float, float, float] | None:
        """Give a time, the station then and the speed, where one over STEADY_MPS is held, and from when until when.

        None where at that time none is.
        """
        row = max(bisect_right(self.from_s, time_s) - 1, 0)
        anchor, station, speed, accel, jerk = self.rows[row]
        held = accel == 0.0 and jerk == 0.0 and speed > STEADY_MPS
        until = self.from_s[row + 1] if row + 1 < len(self.from_s) else math.inf
        return (anchor, station, speed, self.from_s[row], until) if held else None

    @cached_property
    def table(self) -> tuple[tuple[Floats, Floats], tuple[Floats, Floats]]:
        """Stations and the first time at each; stations and the last time at each."""
        begins, ends = self.from_s[1] if len(self.from_s) > 1 else 0.0, self.from_s[-1]
        times = np.linspace(begins, ends, max(2, math.ceil((ends - begins) / TABLE_S)))
        stations = np.maximum.accumulate(self.at(times)[0])
        moved = np.diff(stations) > 0.0
        first, last = np.append(True, moved), np.append(moved, True)
        return (stations[first], times[first]), (stations[last], times[last])

    def bounds_s(self, station_m: Floats) -> tuple[Floats, Floats]:
        """Give the first and the last time at stations, shape (n,): of one that stands by plan they differ."""
        (first_m, first_s), (last_m, last_s) = self.table
        begins_m, begins_mps = self.rows[0][1:3]
        ends_m, ends_mps = self.rows[-1][1:3]
        rolling = (station_m - begins_m) / begins_mps if begins_mps > 0.0 else -NEVER_S
        beyond = (station_m - ends_m) / ends_mps if ends_mps > SLOW_MPS else NEVER_S
        least = np.interp(station_m - SAME_M, first_m, first_s)
        most = np.interp(station_m + SAME_M, last_m, last_s)
        least = np.where(station_m - SAME_M <= begins_m, self.from_s[1] + rolling, least)
        if begins_mps > 0.0:
            most = np.where(station_m + SAME_M < begins_m, self.from_s[1] + rolling, most)
        return least, np.where(station_m + SAME_M >= ends_m, self.from_s[-1] + beyond, most)

    def _row(self, row: int, time_s: Floats) -> tuple[Floats, Floats]:
        anchor, station, speed, accel, jerk = self.rows[row]
        into = time_s - anchor
        if accel == 0.0 and jerk == 0.0:
            return station + into * speed, np.asarray(speed)
        return station + travelled(into, speed, accel, jerk), speed + gained(into, accel, jerk)
