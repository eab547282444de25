"""Roads by their class of roughness: how much they move what rolls over them.

ISO 8608: displacement spectrum Gd(n) = Gd(n0) (n / n0)^-2, with the geometric means of its classes. The standard's own
text was not read: means and formulas are from memory, upper limits of classes A to F second-hand.
"""

from __future__ import annotations

import math
from typing import Literal, get_args

RoadClass = Literal["A", "B", "C", "D", "E", "F", "G", "H"]
# Cycles/m: the reference, and the waves that count.
REFERENCE_PER_M, LONGEST_PER_M, SHORTEST_PER_M = 0.1, 0.011, 2.83
# Gd(n0) of class A in m3, and by how much each class is rougher than the one before.
CLASS_A_M3, ROUGHER = 16e-6, 4.0


def roughness_m3(road: RoadClass) -> float:
    """Give the displacement spectrum Gd at the reference, the geometric mean of a class; m3."""
    return CLASS_A_M3 * ROUGHER ** get_args(RoadClass).index(road)


def displacement_m(road: RoadClass) -> float:
    """Give the root mean square of the road's height over all waves that count; m."""
    waves = 1.0 / LONGEST_PER_M - 1.0 / SHORTEST_PER_M
    return math.sqrt(roughness_m3(road) * REFERENCE_PER_M**2 * waves)


def velocity_spectrum(road: RoadClass) -> float:
    """Give the spectrum of slope over the way, constant over all waves; m."""
    return (2.0 * math.pi * REFERENCE_PER_M) ** 2 * roughness_m3(road)


def velocity_mps(road: RoadClass, speed_mps: float) -> float:
    """Give the root mean square of the vertical speed of what rolls over it at a speed in m/s."""
    waves = SHORTEST_PER_M - LONGEST_PER_M
    return speed_mps * math.sqrt(velocity_spectrum(road) * waves)
