"""A slider, as pages, server and planner all know it."""

from __future__ import annotations

import math

from choreo.words.records import dataclass

# Nobody moves more than this at once, and a page has room for no more.
MOST_SLIDERS = 12


@dataclass(frozen=True)
class Slider:
    """What a page is told of one slider: it stands at value + k step, k from least to most.

    value: as in the file; value and step are in its unit. place: where it is written, so that two names of one thing
    are known.
    """

    name: str
    unit: str
    value: float
    step: float
    least: int
    most: int
    place: str

    def holds(self, shown: float) -> bool:
        """Whether it can stand at a value, in its unit."""
        k = (shown - self.value) / self.step
        return math.isfinite(shown) and self.least - 0.5 < k < self.most + 0.5
