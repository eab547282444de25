"""Sources of error: what may be off from one run to the next, of a mover or of a trigger."""

from __future__ import annotations

import math
from statistics import NormalDist

from choreo.words.kinds import DrawShape, ErrorKind
from choreo.words.records import dataclass

STANDARD = NormalDist()


@dataclass(frozen=True, slots=True)
class Spread:
    """The distribution of one number in SI, or of a ratio.

    middle: the mean of a normal, the middle of a uniform one. size: standard deviation of a normal one, half the width
    of a uniform one. least: it is cut there, since what is below can't be (a latency below zero).
    """

    shape: DrawShape
    middle: float
    size: float
    least: float = -math.inf

    @property
    def share_cut_off(self) -> float:
        """How much of the distribution as written lies below `least`, 0 to 1."""
        if self.least == -math.inf:
            return 0.0
        if self.size == 0.0:
            return float(self.middle < self.least)
        below = (self.least - self.middle) / self.size
        match self.shape:
            case "normal":
                return STANDARD.cdf(below)
            case "uniform":
                return min(max((below + 1.0) / 2.0, 0.0), 1.0)

    @property
    def bias(self) -> float:
        """The mean of what is left after the cut."""
        if self.share_cut_off in (0.0, 1.0) or self.size == 0.0:
            return max(self.middle, self.least)
        match self.shape:
            case "normal":
                return self.middle + self.size * self._hazard
            case "uniform":
                return (self.least + self.middle + self.size) / 2.0

    @property
    def standard_deviation(self) -> float:
        """The standard deviation of what is left after the cut."""
        match self.shape:
            case "normal":
                if self.share_cut_off in (0.0, 1.0):
                    return self.size if self.share_cut_off == 0.0 else 0.0
                below, hazard = (self.least - self.middle) / self.size, self._hazard
                return self.size * math.sqrt(1.0 + below * hazard - hazard**2)
            case "uniform":
                return self.size * (1.0 - self.share_cut_off) / math.sqrt(3.0)

    @property
    def _hazard(self) -> float:
        """Density at the cut over what is left beyond it, of a standard normal distribution."""
        below = (self.least - self.middle) / self.size
        return STANDARD.pdf(below) / (1.0 - self.share_cut_off)


@dataclass(frozen=True, slots=True)
class ErrorSource:
    """One thing that may be off.

    owner: a mover's or a trigger's name. spread: round what is planned, in m, m/s or s; of achieved rates a ratio (1.0:
    as planned). over: of what wanders its correlation, in s for a speed, in m for a path. given: whether somebody wrote
    it; else it is a default, 'common practice, no source'.
    """

    kind: ErrorKind
    owner: str
    spread: Spread
    over: float | None = None
    given: bool = True
