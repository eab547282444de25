"""Braking or accelerating in a curve: what a mover can do along its path while it corners.

The ellipse (a_x/a_x,max)^2 + (a_y/a_y,max)^2 = 1; with equal axes mu g it is the circle of friction. Elementary; tests
hold it against worked values (C155 to C157 of tests/references/SOURCES.md).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def along_left_mps2(
    most_along_mps2: Array | float, across_mps2: Array | float, most_across_mps2: float
) -> Array:
    """Give what is left of the limit along the path, in m/s2, at lateral accelerations in m/s2.

    All of it where sideways there is no limit (inf), nothing at the limit sideways and over it. Shapes as broadcast.
    """
    share = np.abs(across_mps2) / most_across_mps2
    left = np.sqrt(np.maximum(1.0 - share**2, 0.0))
    return np.asarray(np.asarray(most_along_mps2) * left, dtype=np.float64)


def across_left_mps2(
    along_mps2: Array | float, most_along_mps2: Array | float, most_across_mps2: float
) -> Array:
    """Give what is left of the limit sideways, in m/s2, at accelerations along the path in m/s2."""
    share = np.abs(along_mps2) / np.asarray(most_along_mps2)
    return np.asarray(most_across_mps2 * np.sqrt(np.maximum(1.0 - share**2, 0.0)))


def used_share(
    along_mps2: Array | float,
    most_along_mps2: Array | float,
    across_mps2: Array | float,
    most_across_mps2: float,
) -> Array:
    """Give the share of the ellipse that is used, 1 on it: the root of the sum of the squared shares."""
    along = np.abs(along_mps2) / np.asarray(most_along_mps2)
    return np.asarray(np.hypot(along, np.abs(across_mps2) / most_across_mps2))
