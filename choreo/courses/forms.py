"""Forms of a lane change, in closed form: what a way sideways in a time, or over a length, asks for.

Elementary; the factors are mathematics. Checked by C151 to C154 and C161 of tests/references/SOURCES.md.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Form:
    """The largest lateral acceleration, as a multiple of W/T^2, and the largest jerk, of W/T^3."""

    acceleration: float
    jerk: float

    def needs(self, way_m: float, time_s: float) -> tuple[float, float]:
        """Give lateral acceleration in m/s2 and jerk in m/s3 of a way W in m within T in s."""
        return self.acceleration * way_m / time_s**2, self.jerk * way_m / time_s**3


FORMS: Mapping[str, Form] = {
    "two arcs": Form(4.0, math.inf),
    "cosine": Form(math.pi**2 / 2.0, math.pi**3 / 2.0),
    "quintic": Form(10.0 / math.sqrt(3.0), 60.0),
    "cycloid": Form(2.0 * math.pi, 4.0 * math.pi**2),
    "septic": Form(84.0 / (5.0 * math.sqrt(5.0)), 52.5),
}


def two_arcs_per_m(way_m: float, length_m: float) -> float:
    """Give the curvature in 1/m of two equal arcs that go way_m aside over length_m."""
    return 4.0 * way_m / (length_m**2 + way_m**2)


def arcs_and_straight(way_m: float, length_m: float, radius_m: float) -> tuple[float, float]:
    """Give the angle in rad of two equal arcs and the length in m of the straight between them.

    W = 2 R (1 - cos q) + s sin q, L = 2 R sin q + s cos q; without s: L sin q - W cos q = 2 R (1 - cos q), a sum of one
    sine. Raises ValueError: no such angle.
    """
    size, turned = math.hypot(length_m, 2.0 * radius_m - way_m), 2.0 * radius_m - way_m
    if 2.0 * radius_m > size:
        raise ValueError("two arcs of this radius are longer")
    angle = math.asin(2.0 * radius_m / size) - math.atan2(turned, length_m)
    return angle, (length_m - 2.0 * radius_m * math.sin(angle)) / math.cos(angle)


def weave(peak_mps2: float, frequency_hz: float, speed_mps: float) -> tuple[float, float]:
    """Give amplitude in m and way per cycle in m of a weave."""
    return peak_mps2 / (2.0 * math.pi * frequency_hz) ** 2, speed_mps / frequency_hz


def slalom(spacing_m: float, speed_mps: float, aside_m: float) -> tuple[float, float]:
    """Give frequency in Hz and lateral acceleration in m/s2 of a sine of that amplitude round cones in a row."""
    frequency = speed_mps / (2.0 * spacing_m)
    return frequency, aside_m * (2.0 * math.pi * frequency) ** 2
