"""What friction and slope leave of a mover's limits.

Model: the tyres give at most friction times the weight's part across the slope; the weight's part along the slope
helps or hinders. On a rise of angle y in the direction of travel

    accelerating: min(limit, friction g cos y) - g sin y
    braking:      min(limit, friction g cos y) + g sin y
    cornering:    min(limit, friction g cos y)

The limits of the file are those on level ground with enough grip. Braking and cornering at the same time are
not combined, drag and load transfer are left out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

# Standard acceleration of free fall, exact by definition (CGPM 1901).
GRAVITY_MPS2 = 9.80665


@dataclass(frozen=True, slots=True)
class Surface:
    """The worst of what a mover drives on: least friction (None: not given), largest rise and fall ahead of it.

    uphill_ratio, downhill_ratio: height over horizontal way, both from zero up, in the direction of travel.
    """

    friction: float | None = None
    uphill_ratio: float = 0.0
    downhill_ratio: float = 0.0

    def _grip(self, limit_mps2: float, ratio: float) -> float:
        if self.friction is None:
            return limit_mps2
        return min(limit_mps2, self.friction * GRAVITY_MPS2 * math.cos(math.atan(ratio)))

    def accelerating(self, limit_mps2: float) -> float:
        """Give what is left of an acceleration in m/s2 on the steepest rise."""
        pull = GRAVITY_MPS2 * math.sin(math.atan(self.uphill_ratio))
        return self._grip(limit_mps2, self.uphill_ratio) - pull

    def braking(self, limit_mps2: float) -> float:
        """Give what is left of a braking in m/s2 (magnitude) on the steepest fall."""
        pull = GRAVITY_MPS2 * math.sin(math.atan(self.downhill_ratio))
        return self._grip(limit_mps2, self.downhill_ratio) - pull

    def cornering(self, limit_mps2: float) -> float:
        """Give what is left of a lateral acceleration in m/s2."""
        return self._grip(limit_mps2, max(self.uphill_ratio, self.downhill_ratio))


LEVEL = Surface()
