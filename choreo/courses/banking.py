"""Banked curves: neutral and highest speed, what is felt along the floor and into it.

The inside lies lower by the bank angle. Elementary; checked by C158 to C160 of tests/references/SOURCES.md.
"""

from __future__ import annotations

import math

GRAVITY_MPS2 = 9.80665


def neutral_mps(radius_m: float, bank_rad: float) -> float:
    """Give the speed in m/s at which nothing pulls sideways along the floor."""
    return math.sqrt(GRAVITY_MPS2 * radius_m * max(math.tan(bank_rad), 0.0))


def highest_mps(radius_m: float, bank_rad: float, friction: float) -> float:
    """Give the highest speed in m/s that friction holds; inf where it holds any."""
    left = 1.0 - friction * math.tan(bank_rad)
    gained = math.tan(bank_rad) + friction
    if gained <= 0.0:
        return 0.0
    return math.sqrt(GRAVITY_MPS2 * radius_m * gained / left) if left > 0.0 else math.inf


def along_floor_mps2(speed_mps: float, radius_m: float, bank_rad: float) -> float:
    """Give the acceleration along the floor towards the inside, in m/s2; below 0: down the bank is too much."""
    outward = speed_mps**2 / radius_m
    return outward * math.cos(bank_rad) - GRAVITY_MPS2 * math.sin(bank_rad)


def into_floor_mps2(speed_mps: float, radius_m: float, bank_rad: float) -> float:
    """Give the acceleration into the floor in m/s2."""
    return GRAVITY_MPS2 * math.cos(bank_rad) + speed_mps**2 / radius_m * math.sin(bank_rad)
