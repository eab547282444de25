"""What many runs say: chances with their intervals, tries that suffice, intervals that cover, shares of the spread.

Sources: C. J. Clopper and E. S. Pearson, Biometrika 26 (1934), for the interval of a chance; JCGM 101:2008 7.7 for
intervals of sampled values; S. S. Wilks, Annals of Mathematical Statistics 12 (1941), for how many runs reach beyond a
quantile.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.special import betainc, betaincinv, ndtr

from choreo.words.records import dataclass

Floats = NDArray[np.float64]

# With which probability an interval holds the truth, and a number of tries suffices.
LEVEL = 0.95
# No test is tried so often.
MOST_TRIES = 10**9
# Slices of a source's drawn values in which the outcome is averaged; each wants some runs.
MOST_SLICES = 64
LEAST_IN_SLICE = 16


@dataclass(frozen=True, slots=True)
class Chance:
    """How probable something is, as counted: its estimate and the interval (Clopper-Pearson) that holds the truth."""

    count: int
    runs: int
    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Summary:
    """Drawn values of one number: mean, standard deviation, and the shortest interval that covers LEVEL of them."""

    mean: float
    spread: float
    low: float
    high: float


def chance_of(count: int, runs: int, level: float = LEVEL) -> Chance:
    """Give the chance of what happened `count` times in `runs`, with its exact interval.

    Raises ValueError: no runs, or more counted than run.
    """
    if runs < 1 or not 0 <= count <= runs:
        raise ValueError(f"{count} of {runs} runs can't be counted")
    tail = (1.0 - level) / 2.0
    low = 0.0 if count == 0 else float(betaincinv(count, runs - count + 1, tail))
    high = 1.0 if count == runs else float(betaincinv(count + 1, runs - count, 1.0 - tail))
    return Chance(count, runs, count / runs, low, high)


def tries_expected(chance: float, wanted: int = 1) -> float:
    """Give how many tries `wanted` successes take on average; inf where none can be had."""
    return wanted / chance if chance > 0.0 else math.inf


def tries_enough(chance: float, wanted: int = 1, level: float = LEVEL) -> int | None:
    """Give the least number of tries of which at least `wanted` succeed with the probability `level`.

    None beyond a thousand million. With the chance of lying beyond a quantile it is the number of Wilks.
    """

    def enough(tries: int) -> bool:
        # At least `wanted` of `tries`: the regularised incomplete beta function.
        return bool(betainc(wanted, tries - wanted + 1, chance) >= level)

    if chance <= 0.0:
        return None
    most = wanted
    while not enough(most):
        most *= 2
        if most > MOST_TRIES:
            return None
    least = max(wanted, most // 2)
    while least < most:
        middle = (least + most) // 2
        least, most = (least, middle) if enough(middle) else (middle + 1, most)
    return least


def runs_for(chance: float, error: float) -> float:
    """Give how many runs tell a chance to a relative standard error."""
    return (1.0 - chance) / (chance * error**2)


def normal_inside(mean: float, spread: float, least: float, most: float) -> float:
    """Give the probability that a normal number of this mean and standard deviation lies from least to most."""
    if spread <= 0.0:
        return float(least <= mean <= most)
    low, high = (least - mean) / spread, (most - mean) / spread
    if low > 0.0:  # both far above: the small difference of two small numbers, not of two near one
        low, high = -high, -low
    return float(ndtr(high) - ndtr(low))


def summary_of(values: Floats, level: float = LEVEL) -> Summary:
    """Give mean, standard deviation and shortest covering interval of drawn values (shape (runs,)), at least two."""
    low, high = shortest_interval(values, level)
    return Summary(float(np.mean(values)), float(np.std(values, ddof=1)), low, high)


def shortest_interval(values: Floats, level: float = LEVEL) -> tuple[float, float]:
    """Give the ends of the shortest interval that covers a share of drawn values (shape (runs,)); JCGM 101 7.7.4."""
    ordered = np.sort(values)
    steps = min(len(ordered) - 1, max(1, round(level * len(ordered))))
    widths = ordered[steps:] - ordered[: len(ordered) - steps]
    first = int(np.argmin(widths))
    return float(ordered[first]), float(ordered[first + steps])


def quantiles(values: Floats, shares: tuple[float, ...]) -> tuple[float, ...]:
    """Give the values (of shape (runs,)) below which these shares of them lie."""
    return tuple(float(one) for one in np.quantile(values, shares))


def shares_of_spread(drawn: Floats, values: Floats) -> Floats:
    """Give what share of the variance of `values` (shape (runs,)) each source explains alone.

    drawn: what was drawn of each source, shape (runs, sources). The mean outcome in slices of equally many runs along
    a source varies by what that source does, straight or not; what chance alone would make of it is taken off. What
    is missing to 1 is what sources do only together. Shape (sources,); all 0 where nothing varies.
    """
    runs, sources = drawn.shape
    total = float(np.var(values))
    slices = min(MOST_SLICES, runs // LEAST_IN_SLICE)
    if total <= 0.0 or slices < 2:
        return np.zeros(sources)
    edges = np.linspace(0, runs, slices + 1).astype(int)
    counts = np.diff(edges)
    shares = np.zeros(sources)
    for index in range(sources):
        ordered = values[np.argsort(drawn[:, index], kind="stable")]
        means = np.add.reduceat(ordered, edges[:-1]) / counts
        between = float(np.sum(counts * (means - ordered.mean()) ** 2)) / runs
        within = max(0.0, total - between)
        by_chance = within * (slices - 1) / (runs - slices)
        shares[index] = max(0.0, between - by_chance) / total
    return shares
