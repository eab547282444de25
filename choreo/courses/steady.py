"""Steady circles: speeds for lateral accelerations.

Sources: ISO 4138 (steps of at most 0.5 m/s2, read); the rest is elementary. Checked by C139 and C140 of
tests/references/SOURCES.md.
"""

from __future__ import annotations

import math

# ISO 4138, 8.3: lateral acceleration rises in steps of at most this.
STEP_MPS2 = 0.5


def speed_mps(radius_m: float, lateral_mps2: float) -> float:
    """Give the speed in m/s that has a lateral acceleration on a circle."""
    return math.sqrt(radius_m * lateral_mps2)
