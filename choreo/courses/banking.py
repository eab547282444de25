"""Banked curves: neutral and highest speed, what is felt along the floor and into it.

The inside lies lower by the bank angle. Grip grows with the load: a lateral limit in m/s2, which is said for level
ground, is friction times gravity. Elementary; checked by C158 to C160 of tests/references/SOURCES.md.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
GRAVITY_MPS2 = 9.80665


def neutral_mps(radius_m: float, bank_rad: float) -> float:
    """Give the speed in m/s at which nothing pulls sideways along the floor."""
    return math.sqrt(GRAVITY_MPS2 * radius_m * max(math.tan(bank_rad), 0.0))


def highest_mps(radius_m: float, bank_rad: float, friction: float) -> float:
    """Give the highest speed in m/s that friction holds; inf where it holds any."""
    return math.sqrt(radius_m * most_outward_mps2(friction * GRAVITY_MPS2, bank_rad))


def most_outward_mps2(lateral_mps2: float, bank_rad: float) -> float:
    """Give the speed squared over radius, in m/s2, that a limit for level ground holds; inf: any, 0: none."""
    friction = lateral_mps2 / GRAVITY_MPS2
    left = 1.0 - friction * math.tan(bank_rad)
    gained = math.tan(bank_rad) + friction
    if gained <= 0.0:
        return 0.0
    return GRAVITY_MPS2 * gained / left if left > 0.0 else math.inf


def lowest_mps(radius_m: float, bank_rad: float, friction: float) -> float:
    """Give the speed in m/s below which it slides down the bank; 0 where it can stand there."""
    down = abs(math.tan(bank_rad)) - friction
    up = 1.0 + friction * abs(math.tan(bank_rad))
    return math.sqrt(GRAVITY_MPS2 * radius_m * down / up) if down > 0.0 and bank_rad > 0.0 else 0.0


def along_floor_mps2(outward_mps2: Array | float, bank_rad: Array | float) -> Array:
    """Give the acceleration along the floor towards the inside, in m/s2; below 0: down the bank is too much.

    outward_mps2: speed squared over radius. Shapes as broadcast.
    """
    return np.asarray(outward_mps2 * np.cos(bank_rad) - GRAVITY_MPS2 * np.sin(bank_rad))


def into_floor_mps2(outward_mps2: Array | float, bank_rad: Array | float) -> Array:
    """Give the acceleration into the floor in m/s2. Shapes as broadcast."""
    return np.asarray(GRAVITY_MPS2 * np.cos(bank_rad) + outward_mps2 * np.sin(bank_rad))


def as_level_mps2(outward_mps2: Array | float, bank_rad: Array | float) -> Array:
    """Give the lateral acceleration in m/s2 that asks as much of the tyres on level ground. Shapes as broadcast."""
    along, into = along_floor_mps2(outward_mps2, bank_rad), into_floor_mps2(outward_mps2, bank_rad)
    # Off the floor (into it nothing is left) there is no grip at all.
    asked = np.divide(np.abs(along), into, out=np.full(np.shape(along), np.inf), where=into > 0.0)
    return np.asarray(GRAVITY_MPS2 * asked)
