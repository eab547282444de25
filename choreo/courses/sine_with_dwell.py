"""Sine with dwell: times, steering rates, amplitudes, the room that it takes.

Source: GB/T 30677-2014, read; 49 CFR 571.126 and UN R140 have the same shape as recalled. Checked by C144 to C149 of
tests/references/SOURCES.md.
"""

from __future__ import annotations

import math

FREQUENCY_HZ = 0.7
DWELL_S = 0.5
# Both peaks, the end of the dwell, the end of steer, after the beginning of steer.
TIMES_S = (
    1.0 / (4.0 * FREQUENCY_HZ),
    3.0 / (4.0 * FREQUENCY_HZ),
    3.0 / (4.0 * FREQUENCY_HZ) + DWELL_S,
    1.0 / FREQUENCY_HZ + DWELL_S,
)
# The yaw rate is looked at for so long after the end of steer.
WATCHED_S = 1.75
# Amplitudes: from and by these multiples of A, to the larger of the last multiple and LAST_DEG, at most MOST_DEG.
FIRST, STEP, LAST = 1.5, 0.5, 6.5
LAST_DEG, MOST_DEG = 270.0, 300.0
# Slowly increasing steer (deg/s). Runs of this many times A or more count for how far aside (m; the second over
# 3500 kg) it must come within so long after the beginning of steer.
SLOW_DEG_S = 13.5
COUNTS, ASIDE_M, ASIDE_BY_S = 5.0, (1.83, 1.52), 1.07


def most_rate(amplitude_deg: float) -> float:
    """Give the fastest steering rate in deg/s of an amplitude in deg."""
    return 2.0 * math.pi * FREQUENCY_HZ * amplitude_deg


def amplitudes_deg(a_deg: float) -> list[float]:
    """Give the amplitudes of one series in deg; a_deg: the wheel angle at 3.0 m/s2."""
    last = min(max(LAST * a_deg, LAST_DEG), MOST_DEG)
    found, step = [], 0
    while (FIRST + STEP * step) * a_deg < last - 1e-9:
        found.append((FIRST + STEP * step) * a_deg)
        step += 1
    return [*found, last]


def displacement_m(peak_mps2: float, time_s: float) -> float:
    """Give the lateral way in m that a sine of lateral acceleration makes in time_s: A/w (t - sin(w t)/w)."""
    omega = 2.0 * math.pi * FREQUENCY_HZ
    return peak_mps2 / omega * (time_s - math.sin(omega * time_s) / omega)


def most_aside_s2() -> float:
    """Give how far aside in m a car comes whose lateral acceleration has the shape of the steering, of 1 m/s2.

    Until its yaw rate is looked at for the last time; then it goes across at a speed of `DWELL_S` times that.
    """
    omega = 2.0 * math.pi * FREQUENCY_HZ
    quarter = 1.0 / (4.0 * FREQUENCY_HZ)
    # At the second peak, in the dwell where it turns back, at the end of the dwell, of steer, of the look.
    across, way = 1.0 / omega, displacement_m(1.0, TIMES_S[1])
    most = way + across**2 / 2.0
    way += across * DWELL_S - DWELL_S**2 / 2.0
    way += (across - DWELL_S) * quarter - 1.0 / omega**2
    return max(most, abs(way - DWELL_S * WATCHED_S))


def slowly_increasing(angle_deg: float, speed_mps: float) -> tuple[float, float]:
    """Give how long steering slowly to an angle takes, in s, and how far it goes meanwhile, in m."""
    lasts = angle_deg / SLOW_DEG_S
    return lasts, lasts * speed_mps
