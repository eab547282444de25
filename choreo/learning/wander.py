"""How speeds and paths wander from run to run: size and correlation, with intervals, out of many short stretches.

The model is that of `speed wander` and of a path's `wander`: a stationary normal course whose memory fades
exponentially (first order), here round a level of each stretch's own, under white noise of measuring. Its likelihood
(restricted to contrasts that no level enters; Patterson and Thompson, Biometrika 58, 1971; textbook, from memory) is
looked at on a grid of correlations and of noise over size; the size at each is closed form. Intervals are those of
profiles.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from choreo.learning.stretches import MOST_STRETCHES, POINTS, Stretch, held_in
from choreo.scoring.run import RecordedRun
from choreo.words.records import dataclass

Floats = NDArray[np.float64]
WanderOf = Literal["speed wander", "path wander"]

# Correlations in steps of a stretch, from what one step just shows to what looks like a level of its own.
CORRELATIONS = np.geomspace(0.7, 4.0 * POINTS, 48)
# Variance of the noise over that of the wander.
NOISES = np.geomspace(1e-3, 1e2, 32)
# Chi-squared of one degree at 95 %, halved; and by how much the likelihood must rise for a wander to be told at all
# (two more numbers, 99.8 %).
HALF_95, LEAST_RISE = 1.92, 6.2
# A wander that is smaller isn't told (m/s, m): it changes no test. Common practice, no source.
LEAST_SIZES: dict[WanderOf, float] = {"speed wander": 0.01 / 3.6, "path wander": 0.001}
# Fewer stretches tell no wander from a drift.
LEAST_STRETCHES = 3
# Sizes that are looked at for the ends of its interval.
SIZES = 120


@dataclass(frozen=True, slots=True)
class Wander:
    """What wanders, of whom, SI: its standard deviation and its correlation (s or m), each with its 95 % interval.

    over_high: None where nothing says that it ends. mean_size: what it adds to the mean of one stretch.
    """

    what: WanderOf
    owner: str
    size: float
    size_low: float
    size_high: float
    over: float
    over_low: float
    over_high: float | None
    mean_size: float
    count: int


class Gathering:
    """Stretches of one run after the other, for what wanders in all of them."""

    def __init__(self) -> None:
        self._held: dict[str, list[Stretch]] = {}
        self._beside: dict[str, list[Stretch]] = {}

    def take(self, run: RecordedRun) -> None:
        """Keep what one run shows; the run itself isn't kept."""
        for name, (held, beside) in held_in(run).items():
            for kept, one in ((self._held, held), (self._beside, beside)):
                those = kept.setdefault(name, [])
                if one is not None and len(those) < MOST_STRETCHES:
                    those.append(one)

    def wanders(self) -> list[Wander]:
        """Give what wanders, by mover."""
        speeds = [wander_of("speed wander", name, those) for name, those in self._held.items()]
        paths = [wander_of("path wander", name, those) for name, those in self._beside.items()]
        return [one for one in (*speeds, *paths) if one is not None]


@cache
def _contrasts() -> tuple[Floats, Floats, Floats]:
    """For each correlation what turns values into contrasts; for each noise too their variances, and their logarithms.

    Shapes (correlations, POINTS - 1, POINTS), (correlations, noises, POINTS - 1), (correlations, noises).
    """
    # Rows that add up to nothing and are at right angles: no level of a stretch enters them.
    rows = np.linalg.qr(np.column_stack((np.ones(POINTS), np.eye(POINTS)[:, 1:])))[0][:, 1:].T
    apart = np.abs(np.subtract.outer(np.arange(POINTS), np.arange(POINTS)))
    values, turned = [], []
    for correlation in CORRELATIONS:
        found = np.linalg.eigh(rows @ _of_averages(apart, float(correlation)) @ rows.T)
        values.append(found.eigenvalues)
        turned.append(found.eigenvectors.T @ rows)
    spread = np.array(values)[:, None, :] + NOISES[None, :, None]
    return np.array(turned), spread, np.log(spread).sum(axis=2)


def _of_averages(apart: Floats, correlation: float) -> Floats:
    """Covariances of averages over one step each, so many steps apart, of a course of variance 1; both integrals of
    exp(-apart / correlation) over the two steps are closed form.
    """
    beside = 2.0 * correlation**2 * (np.cosh(1.0 / correlation) - 1.0)
    same = 2.0 * correlation * (1.0 - correlation * (1.0 - np.exp(-1.0 / correlation)))
    return np.asarray(np.where(apart == 0, same, beside * np.exp(-apart / correlation)))


def wander_of(what: WanderOf, owner: str, stretches: Sequence[Stretch]) -> Wander | None:
    """Give how a speed or a path wanders; None where nothing above the noise does, or too little was recorded."""
    if len(stretches) < LEAST_STRETCHES:
        return None
    step = float(np.median([one.step for one in stretches]))
    values = np.stack([one.values for one in stretches], axis=1)
    contrasts, spread, logarithms = _contrasts()
    # Sums of squares over the stretches, shape (correlations, POINTS - 1).
    squares = ((contrasts @ values) ** 2).sum(axis=2)
    free = (POINTS - 1) * len(stretches)
    variance = (squares[:, None, :] / spread).sum(axis=2) / free
    if not np.all(variance > 0.0):
        return None
    rises = -0.5 * (len(stretches) * logarithms + free * np.log(variance))
    alone = -0.5 * free * np.log(squares[0].sum() / free)
    best = np.unravel_index(int(np.argmax(rises)), rises.shape)
    if rises[best] - alone < LEAST_RISE:
        return None
    inside = np.flatnonzero(rises.max(axis=1) > rises[best] - HALF_95)
    ends = max(inside[0] - 1, 0), inside[-1] + 1
    over_high = None if ends[1] == len(CORRELATIONS) else float(CORRELATIONS[ends[1]]) * step
    low, high = _sizes(rises, variance, free, float(rises[best]))
    over = float(CORRELATIONS[best[0]]) * step
    size = float(np.sqrt(variance[best]))
    if size < LEAST_SIZES[what]:
        return None
    return Wander(
        what,
        owner,
        size,
        low,
        high,
        over,
        float(CORRELATIONS[ends[0]]) * step,
        over_high,
        _of_mean(size, over, POINTS * step),
        len(stretches),
    )


def _sizes(rises: Floats, variance: Floats, free: int, best: float) -> tuple[float, float]:
    """The interval of the size: where its profile, with the best correlation and noise for each, is high enough."""
    likely = rises > best - HALF_95
    variances, heights = variance[likely], rises[likely]
    ends = np.sqrt(variances.min()), np.sqrt(variances.max())
    sizes = np.geomspace(0.5 * ends[0], 2.0 * ends[1], SIZES)
    ratios = variances[:, None] / sizes**2
    profile = (heights[:, None] - 0.5 * free * (ratios - 1.0 - np.log(ratios))).max(axis=0)
    inside = np.flatnonzero(profile > best - HALF_95)
    if not len(inside):
        return float(ends[0]), float(ends[1])
    # The ends lie between what is inside and what no longer is.
    return float(sizes[max(inside[0] - 1, 0)]), float(sizes[min(inside[-1] + 1, SIZES - 1)])


def _of_mean(size: float, over: float, lasting: float) -> float:
    """The standard deviation of the mean of a first-order course over a stretch (textbook, from memory)."""
    many = lasting / over
    return float(size * np.sqrt(2.0 / many * (1.0 - (1.0 - np.exp(-many)) / many)))
