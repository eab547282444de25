"""Several runs together: how many were valid and how sure that is, how values spread, drift and stand out.

Sources: C. J. Clopper and E. S. Pearson, Biometrika 26 (1934), for the interval; runs without a failure that show a
reliability: n = ceil(ln(1 - confidence) / ln(reliability)), textbook (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from scipy.special import chdtri, stdtrit

from choreo.errors.statistics import Chance, chance_of
from choreo.scoring.chances import Decision, Wald, at_least, jeffreys, wilson
from choreo.scoring.estimators import LEVEL, Estimate, estimate, outliers_of
from choreo.scoring.score import RunScore
from choreo.words.records import dataclass

# Fewer runs have no trend.
LEAST_TREND = 5


@dataclass(frozen=True, slots=True)
class Trend:
    """How a value changes from run to run: its slope a run and half the width of that's interval."""

    slope: float
    half: float

    @property
    def clear(self) -> bool:
        """Whether it is more than chance."""
        return abs(self.slope) > self.half


@dataclass(frozen=True, slots=True)
class ValueTold:
    """One encounter's value over the runs. outliers: names of runs. foreseen: the spread that stress foresaw, None:
    not asked. foreseen_fits: whether the runs' spread can be that one."""

    encounter: str
    unit: str
    found: Estimate
    trend: Trend | None
    outliers: tuple[str, ...]
    foreseen: float | None = None
    foreseen_fits: bool = True


@dataclass(frozen=True, slots=True)
class SeriesTold:
    """Runs judged together. chance: of a valid run, of those that could be decided; None where none could.

    jeffreys, wilson: other intervals of it. decision: of Wald's test over the decided runs in their order, and after
    how many. extra: after a failed run so many must all be valid, and how likely that is with this share.
    """

    runs: int
    valid: int
    invalid: int
    undecided: int
    chance: Chance | None
    values: tuple[ValueTold, ...]
    jeffreys: tuple[float, float, float] | None = None
    wilson: tuple[float, float] | None = None
    decision: tuple[Decision, int] | None = None
    extra: tuple[int, float] | None = None


def series_of(
    scores: Sequence[RunScore],
    units: dict[str, str],
    foreseen: dict[str, float] | None = None,
    extra: int = 0,
) -> SeriesTold:
    """Put runs together. units: of each encounter. foreseen: spreads by encounter. extra: runs after a failed one."""
    rulings = [one.ruling for one in scores]
    valid, invalid = rulings.count("valid"), rulings.count("invalid")
    decided = valid + invalid
    values = []
    for name, unit in units.items():
        found = [one.value_of(name) for one in scores]
        if not any(math.isfinite(one) for one in found):
            continue
        told = estimate(found)
        names = tuple(scores[index].name for index in outliers_of(found))
        sigma = None if foreseen is None else foreseen.get(name)
        fits = _fits(told, sigma)
        values.append(ValueTold(name, unit, told, trend_of(found), names, sigma, fits))
    chance = chance_of(valid, decided) if decided else None
    told_runs = SeriesTold(
        len(scores), valid, invalid, len(scores) - decided, chance, tuple(values)
    )
    if not decided:
        return told_runs
    return replace(
        told_runs,
        jeffreys=jeffreys(valid, decided),
        wilson=wilson(valid, decided),
        decision=Wald().decide([one == "valid" for one in rulings if one != "not decidable"]),
        extra=None if extra == 0 else (extra, at_least(extra, extra, valid / decided)),
    )


def trend_of(values: Sequence[float]) -> Trend | None:
    """Give the drift of values from one to the next; None of too few."""
    y = np.asarray(values, dtype=float)
    x = np.arange(len(y), dtype=float)[np.isfinite(y)]
    y = y[np.isfinite(y)]
    if len(y) < LEAST_TREND:
        return None
    off = x - x.mean()
    slope = float((off * y).sum() / (off**2).sum())
    rest = y - y.mean() - slope * off
    scatter = float((rest**2).sum()) / (len(y) - 2)
    t = float(stdtrit(len(y) - 2, 0.5 + LEVEL / 2.0))
    return Trend(slope, t * math.sqrt(scatter / float((off**2).sum())))


def _fits(found: Estimate, sigma: float | None) -> bool:
    """Whether a spread can be sigma: chi-squared, 95 %, two-sided."""
    if sigma is None or found.spread is None or sigma <= 0.0:
        return True
    free, tail = found.count - 1, (1.0 - LEVEL) / 2.0
    ratio = free * (found.spread / sigma) ** 2
    return bool(chdtri(free, 1.0 - tail) <= ratio <= chdtri(free, tail))


def runs_without_failure(reliability: float, confidence: float) -> int:
    """Give how many runs without a failure show a reliability with a confidence, both 0 to 1."""
    return math.ceil(math.log(1.0 - confidence) / math.log(reliability) - 1e-12)
