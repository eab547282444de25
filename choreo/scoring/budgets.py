"""Budgets of measurement uncertainty after JCGM 100:2008 (GUM; from memory), and limits guarded by them (JCGM 106)."""

from __future__ import annotations

import math
from collections.abc import Sequence

from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Part:
    """One contribution: its standard uncertainty, its sensitivity, its degrees of freedom."""

    u: float
    sensitivity: float = 1.0
    freedom: float = math.inf

    @property
    def share(self) -> float:
        """What it adds to the result."""
        return abs(self.sensitivity) * self.u


def rectangular(half_width: float) -> float:
    """Give the standard uncertainty of what lies anywhere within a limit."""
    return half_width / math.sqrt(3.0)


def triangular(half_width: float) -> float:
    """Give the standard uncertainty of what lies within a limit, most likely in the middle."""
    return half_width / math.sqrt(6.0)


def resolution(step: float) -> float:
    """Give the standard uncertainty of what is read in steps."""
    return step / math.sqrt(12.0)


def combined(parts: Sequence[Part]) -> float:
    """Give the combined standard uncertainty of independent parts."""
    return math.sqrt(sum(part.share**2 for part in parts))


def freedom(parts: Sequence[Part]) -> float:
    """Give the effective degrees of freedom (Welch and Satterthwaite), inf where all are."""
    below = sum(part.share**4 / part.freedom for part in parts)
    return combined(parts) ** 4 / below if below > 0.0 else math.inf


def guarded(limit: float, u: float, factor: float = 1.65) -> float:
    """Give the limit below which a measured value is safely inside."""
    return limit - factor * u
