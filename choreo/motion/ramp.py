"""The quickest change of speed at a constant rate, built up and released at given jerks."""

from __future__ import annotations

import math
from itertools import pairwise

from choreo.motion.cubic import gained, travelled
from choreo.words.records import dataclass

Table = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class RampShape:
    """Three pieces: build-up, constant rate, release; peak_mps2 is the magnitude reached."""

    peak_mps2: float
    build_up_s: float
    constant_s: float
    release_s: float
    start_mps: float
    end_mps: float

    @property
    def duration_s(self) -> float:
        return self.build_up_s + self.constant_s + self.release_s

    @property
    def distance_m(self) -> float:
        """Distance covered over the whole ramp, exact: three cubics added up."""
        return self.distance_after_m(self.duration_s)

    def distance_after_m(self, time_s: float) -> float:
        """Distance covered time_s after the ramp began; afterwards at its end speed."""
        sign = 1.0 if self.end_mps >= self.start_mps else -1.0
        speed, distance, left = self.start_mps, 0.0, time_s
        for accel, end_accel, lasts in (
            (0.0, self.peak_mps2, self.build_up_s),
            (self.peak_mps2, self.peak_mps2, self.constant_s),
            (self.peak_mps2, 0.0, self.release_s),
        ):
            u = min(max(left, 0.0), lasts)
            jerk = (end_accel - accel) / lasts if lasts > 0 else 0.0
            distance += travelled(u, speed, sign * accel, sign * jerk)
            speed += gained(u, sign * accel, sign * jerk)
            left -= lasts
        return distance + max(left, 0.0) * self.end_mps


def rated_ramp(
    start_mps: float,
    end_mps: float,
    rate_mps2: float,
    *,
    build_up_jerk_mps3: float = math.inf,
    release_jerk_mps3: float = math.inf,
) -> RampShape:
    """Give the quickest ramp between two speeds at a rate; an infinite jerk is a jump.

    start_mps, end_mps: speeds >= 0. rate_mps2: magnitude > 0. Jerks: magnitudes > 0, may be inf.
    Returns the shape; where the speed change is too small for the full rate the peak is lower.
    Source: elementary; with equal jerks T = v/a + a/j and D = v T / 2 from rest.
    """
    change = abs(end_mps - start_mps)
    # Speed gained while building up and releasing a peak A is A^2/2 (1/j_in + 1/j_out).
    slowness = 1 / build_up_jerk_mps3 + 1 / release_jerk_mps3
    peak = rate_mps2
    if slowness > 0:
        peak = min(rate_mps2, math.sqrt(2 * change / slowness))
    constant = (change - peak * peak * slowness / 2) / peak if peak > 0 else 0.0
    return RampShape(
        peak_mps2=peak,
        build_up_s=peak / build_up_jerk_mps3,
        constant_s=max(0.0, constant),
        release_s=peak / release_jerk_mps3,
        start_mps=start_mps,
        end_mps=end_mps,
    )


def table_value_mps2(table: Table, speed_mps: float) -> float:
    """Give the acceleration a table allows at a speed: linear between entries, flat beyond them.

    table: (speed_mps, accel_mps2) pairs, speeds rising. Returns m/s2.
    """
    if speed_mps <= table[0][0]:
        return table[0][1]
    for (low, low_accel), (high, high_accel) in pairwise(table):
        if speed_mps <= high:
            return low_accel + (high_accel - low_accel) * (speed_mps - low) / (high - low)
    return table[-1][1]
