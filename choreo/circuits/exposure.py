"""Whole-body vibration: what a driver gets, and for how long one may drive.

Limits, daily exposure A(8) and the basis (largest of 1.4 x, 1.4 y, z) from Directive 2002/44/EC, article 3 and annex B;
the estimate of the vibration dose value, 1.4 a T^(1/4), from memory of ISO 2631-1.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

HOUR_S = 3600.0
# What a daily value is related to, and what a day has.
DAY_H = 8.0
DAY_S = 86_400.0
# Directive 2002/44/EC, article 3: in m/s2 and in m/s^1.75.
ACTION_MPS2, LIMIT_MPS2 = 0.5, 1.15
ACTION_VDV, LIMIT_VDV = 9.1, 21.0
AXES = (1.4, 1.4, 1.0)
ESTIMATE = 1.4

Array = NDArray[np.float64]


def basis_mps2(x_mps2: float, y_mps2: float, z_mps2: float) -> float:
    """Give what counts of the weighted accelerations of three axes: the largest of 1.4 x, 1.4 y, z."""
    return max(k * one for k, one in zip(AXES, (x_mps2, y_mps2, z_mps2), strict=True))


def worst_day(felt_mps2: Array, lasts_s: Array) -> tuple[float, float]:
    """Give A(8) and the estimated dose value of the 24 hours in a row in which each is highest.

    felt_mps2, lasts_s: of spells in their order, shape (n,) each. Of what lasts no longer it is of the whole. The
    limits are daily ones; a day is no calendar's day here, so that a night is not cut in two.
    """
    edges = np.concatenate(([0.0], np.cumsum(lasts_s)))
    latest = max(0.0, edges[-1] - DAY_S)
    begins = np.unique(np.clip(np.concatenate((edges, edges - DAY_S)), 0.0, latest))

    def most(power: int) -> float:
        """The highest integral of so high a power: it is straight between edges, so that begins are enough."""
        summed = np.concatenate(([0.0], np.cumsum(felt_mps2**power * lasts_s)))
        gains = np.interp(begins + DAY_S, edges, summed) - np.interp(begins, edges, summed)
        return float(gains.max())

    return math.sqrt(most(2) / (DAY_H * HOUR_S)), ESTIMATE * most(4) ** 0.25


def shares_of(a8_mps2: float, vdv: float) -> Mapping[str, float]:
    """Give how many times over a day has the exposure at which each value of the directive is reached.

    Exposure adds up over time, A(8) squared and the dose to the fourth: so many persons share it evenly, at least.
    """
    return {
        "action A(8)": (a8_mps2 / ACTION_MPS2) ** 2,
        "limit A(8)": (a8_mps2 / LIMIT_MPS2) ** 2,
        "action VDV": (vdv / ACTION_VDV) ** 4,
        "limit VDV": (vdv / LIMIT_VDV) ** 4,
    }
