"""Whole-body vibration: what a driver gets, and for how long one may drive.

Limits, daily exposure A(8) and the basis (largest of 1.4 x, 1.4 y, z) from Directive 2002/44/EC, article 3 and annex B;
the estimate of the vibration dose value, 1.4 a T^(1/4), from memory of ISO 2631-1.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

HOUR_S = 3600.0
DAY_H = 8.0
# Directive 2002/44/EC, article 3: in m/s2 and in m/s^1.75.
ACTION_MPS2, LIMIT_MPS2 = 0.5, 1.15
ACTION_VDV, LIMIT_VDV = 9.1, 21.0
AXES = (1.4, 1.4, 1.0)
ESTIMATE = 1.4

Spells = Iterable[tuple[float, float]]


def basis_mps2(x_mps2: float, y_mps2: float, z_mps2: float) -> float:
    """Give what counts of the weighted accelerations of three axes: the largest of 1.4 x, 1.4 y, z."""
    return max(k * one for k, one in zip(AXES, (x_mps2, y_mps2, z_mps2), strict=True))


def daily_mps2(spells: Spells) -> float:
    """Give A(8) of spells of (acceleration in m/s2, duration in s)."""
    return math.sqrt(math.fsum(a * a * t for a, t in spells) / (DAY_H * HOUR_S))


def dose(spells: Spells) -> float:
    """Give the estimated vibration dose value of spells of (acceleration in m/s2, duration in s), in m/s^1.75."""
    return math.sqrt(math.sqrt(math.fsum((ESTIMATE * a) ** 4 * t for a, t in spells)))


def hours_to_daily(accel_mps2: float, value_mps2: float) -> float:
    """Give after how many hours a day A(8) has a value."""
    return math.inf if accel_mps2 <= 0.0 else DAY_H * (value_mps2 / accel_mps2) ** 2


def hours_to_dose(accel_mps2: float, value: float) -> float:
    """Give after how many hours the estimated dose value has a value in m/s^1.75."""
    if accel_mps2 <= 0.0:
        return math.inf
    return (value / (ESTIMATE * accel_mps2)) ** 4 / HOUR_S


def hours_allowed(spells: Sequence[tuple[float, float]]) -> Mapping[str, float]:
    """Give how many hours a day a mix of spells may last until each value of the directive is reached."""
    lasts = math.fsum(t for _, t in spells)
    if lasts <= 0.0:
        return {}
    mean = math.sqrt(math.fsum(a * a * t for a, t in spells) / lasts)
    fourth = (math.fsum(a**4 * t for a, t in spells) / lasts) ** 0.25
    return {
        "action A(8)": hours_to_daily(mean, ACTION_MPS2),
        "limit A(8)": hours_to_daily(mean, LIMIT_MPS2),
        "action VDV": hours_to_dose(fourth, ACTION_VDV),
        "limit VDV": hours_to_dose(fourth, LIMIT_VDV),
    }
