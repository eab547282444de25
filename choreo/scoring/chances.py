"""Chances of valid runs beside the interval of Clopper and Pearson: other intervals, tests that go from run to run.

Sources (textbook, from memory): A. Wald, Sequential Analysis, 1947; E. B. Wilson, JASA 22 (1927); H. Jeffreys' prior
Beta(1/2, 1/2); the binomial distribution.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

from scipy.special import bdtrc, betaincinv, ndtri

from choreo.words.records import dataclass

LEVEL = 0.95
Decision = Literal["accepted", "rejected", "goes on"]


@dataclass(frozen=True, slots=True)
class Wald:
    """A sequential test of a good share of valid runs against a bad one.

    alpha: the chance to reject a good one; beta: to accept a bad one.
    """

    good: float = 0.95
    bad: float = 0.80
    alpha: float = 0.05
    beta: float = 0.10

    @property
    def bounds(self) -> tuple[float, float]:
        """From where on the sum of steps accepts (negative), and from where on it rejects."""
        accepts = math.log(self.beta / (1.0 - self.alpha))
        return accepts, math.log((1.0 - self.beta) / self.alpha)

    @property
    def steps(self) -> tuple[float, float]:
        """What a valid run adds, and an invalid one."""
        invalid = math.log((1.0 - self.bad) / (1.0 - self.good))
        return math.log(self.bad / self.good), invalid

    def decide(self, valid: Sequence[bool]) -> tuple[Decision, int]:
        """Give the decision and after how many runs, in their order; all of them where it goes on."""
        accepts, rejects = self.bounds
        total = 0.0
        for count, one in enumerate(valid, start=1):
            total += self.steps[0] if one else self.steps[1]
            if total <= accepts:
                return "accepted", count
            if total >= rejects:
                return "rejected", count
        return "goes on", len(valid)


def jeffreys(valid: int, runs: int, level: float = LEVEL) -> tuple[float, float, float]:
    """Give mean, low and high of the chance of a valid run by Jeffreys' prior."""
    a, b, tail = valid + 0.5, runs - valid + 0.5, (1.0 - level) / 2.0
    return a / (a + b), float(betaincinv(a, b, tail)), float(betaincinv(a, b, 1.0 - tail))


def wilson(valid: int, runs: int, level: float = LEVEL) -> tuple[float, float]:
    """Give low and high of the chance of a valid run by the score interval."""
    z = float(ndtri(0.5 + level / 2.0))
    share, scale = valid / runs, 1.0 + z**2 / runs
    middle = (share + z**2 / (2.0 * runs)) / scale
    half = z / scale * math.sqrt(share * (1.0 - share) / runs + z**2 / (4.0 * runs**2))
    return middle - half, middle + half


def at_least(needed: int, runs: int, chance: float) -> float:
    """Give how likely it is that at least so many of some runs are valid, each with a chance."""
    return float(bdtrc(needed - 1, runs, chance)) if needed > 0 else 1.0
