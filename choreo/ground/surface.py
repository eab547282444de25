"""What friction and slope leave of a mover's limits.

Model: the tyres give at most friction times the weight's part across the slope; the weight's part along the slope
helps or hinders. On a rise of angle y in the direction of travel, and of angle z across it

    accelerating: min(limit, friction g cos y) - g sin y
    braking:      min(limit, friction g cos y) + g sin y
    cornering:    min(limit, friction g cos z) - g sin z

The limits of the file are those on level ground with enough grip; no slope raises them. Braking and cornering at the
same time are not combined, drag and load transfer are left out.
"""

from __future__ import annotations

import math

from choreo.words.records import dataclass

# Standard acceleration of free fall, exact by definition (CGPM 1901).
GRAVITY_MPS2 = 9.80665


@dataclass(frozen=True, slots=True)
class Surface:
    """The worst of what a mover drives on: least friction (None: not given), largest rise and fall ahead of it.

    uphill_ratio, downhill_ratio: height over horizontal way, both from zero up, in the direction of travel;
    side_ratio: the same across it.
    """

    friction: float | None = None
    uphill_ratio: float = 0.0
    downhill_ratio: float = 0.0
    side_ratio: float = 0.0

    def _left(self, limit_mps2: float, ratio: float) -> float:
        angle = math.atan(ratio)
        grip = math.inf
        if self.friction is not None:
            grip = self.friction * GRAVITY_MPS2 * math.cos(angle)
        return min(limit_mps2, grip) - GRAVITY_MPS2 * math.sin(angle)

    def accelerating(self, limit_mps2: float) -> float:
        """Give what is left of an acceleration in m/s2 on the steepest rise."""
        return self._left(limit_mps2, self.uphill_ratio)

    def braking(self, limit_mps2: float) -> float:
        """Give what is left of a braking in m/s2 (magnitude) on the steepest fall."""
        return self._left(limit_mps2, self.downhill_ratio)

    def cornering(self, limit_mps2: float) -> float:
        """Give what is left of a lateral acceleration in m/s2 on the steepest slope across the path."""
        return self._left(limit_mps2, self.side_ratio)

    def with_worse(self, other: Surface) -> Surface:
        """Give the worse of both in every respect."""
        frictions = [one for one in (self.friction, other.friction) if one is not None]
        return Surface(
            min(frictions, default=None),
            max(self.uphill_ratio, other.uphill_ratio),
            max(self.downhill_ratio, other.downhill_ratio),
            max(self.side_ratio, other.side_ratio),
        )


LEVEL = Surface()
