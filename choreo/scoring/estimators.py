"""Numbers out of runs: middles that outliers don't move, lines, delays, and what the next run may bring.

Sources: textbook estimators (from memory): median and 1.4826 times the median absolute deviation; Student's t for means
and for the next value; P. K. Sen, JASA 63 (1968), and A. F. Siegel, Biometrika 69 (1982), for lines with outliers.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from choreo.words.records import dataclass

Floats = NDArray[np.float64]

LEVEL = 0.95
# Makes a median absolute deviation a standard deviation of normal numbers.
OF_NORMAL = 1.4826
# Fewer values have no spread that could be claimed.
LEAST_VALUES = 3


@dataclass(frozen=True, slots=True)
class Estimate:
    """What runs say of one number. mean_half: half the width of the mean's interval, next_half: of the next value's.

    spread, mean_half, next_half: None of fewer than LEAST_VALUES. median, robust: what outliers don't move.
    """

    count: int
    mean: float
    spread: float | None
    mean_half: float | None
    next_half: float | None
    median: float
    robust: float | None


def estimate(values: Sequence[float], level: float = LEVEL) -> Estimate:
    """Give what values say. Raises ValueError: none."""
    known = np.array([one for one in values if math.isfinite(one)])
    count = len(known)
    if not count:
        raise ValueError("an estimate needs a value")
    mean, median = float(known.mean()), float(np.median(known))
    if count < LEAST_VALUES:
        return Estimate(count, mean, None, None, None, median, None)
    spread = float(known.std(ddof=1))
    t = float(stdtrit(count - 1, 0.5 + level / 2.0))
    robust = OF_NORMAL * float(np.median(np.abs(known - median)))
    half, further = t * spread / math.sqrt(count), t * spread * math.sqrt(1.0 + 1.0 / count)
    return Estimate(count, mean, spread, half, further, median, robust)


def outliers_of(values: Sequence[float], times: float = 3.5) -> list[int]:
    """Give the places of values that lie more than so many robust spreads from the median; of fewer than 5 none."""
    known = np.asarray(values, dtype=float)
    if np.isfinite(known).sum() < 5:
        return []
    median = float(np.nanmedian(known))
    robust = OF_NORMAL * float(np.nanmedian(np.abs(known - median)))
    if robust <= 0.0:
        return []
    return [int(one) for one in np.flatnonzero(np.abs(known - median) > times * robust)]


def line(x: Floats, y: Floats) -> tuple[float, float]:
    """Give slope and intercept of the line of least squares through points of shape (n,)."""
    off = x - x.mean()
    slope = float((off * (y - y.mean())).sum() / (off**2).sum())
    return slope, float(y.mean()) - slope * float(x.mean())


def median_line(x: Floats, y: Floats) -> tuple[float, float]:
    """Give slope and intercept by medians of pairs (Theil, Sen) of points, shape (n,)."""
    i, j = np.triu_indices(len(x), 1)
    apart = x[j] != x[i]
    slope = float(np.median((y[j] - y[i])[apart] / (x[j] - x[i])[apart]))
    return slope, float(np.median(y) - slope * np.median(x))


def repeated_median_line(x: Floats, y: Floats) -> tuple[float, float]:
    """Give slope and intercept by repeated medians (Siegel) of points, shape (n,): half of them may be outliers."""
    slopes, intercepts = [], []
    for k in range(len(x)):
        apart = x != x[k]
        slopes.append(np.median((y[apart] - y[k]) / (x[apart] - x[k])))
        intercepts.append(np.median((y[k] * x[apart] - y[apart] * x[k]) / (x[apart] - x[k])))
    return float(np.median(slopes)), float(np.median(intercepts))


def launch_by_way(time_s: Floats, way_m: Floats) -> tuple[float, float]:
    """Give start in s and acceleration in m/s2 of a constant acceleration from rest, from ways, shape (n,)."""
    slope, intercept = line(time_s, np.sqrt(way_m))
    return -intercept / slope, 2.0 * slope**2


def launch_by_speed(time_s: Floats, speed_mps: Floats) -> tuple[float, float]:
    """Give start in s and acceleration in m/s2 of a constant acceleration from rest, from speeds, shape (n,)."""
    slope, intercept = line(time_s, speed_mps)
    return -intercept / slope, slope


def delay_s(early: Floats, late: Floats, rate_hz: float) -> float:
    """Give by how much one record, shape (n,), is behind another: the peak of their correlation and a parabola.

    Both begin and end at zero.
    """
    found = np.correlate(late, early, mode="full")
    peak = int(np.argmax(found))
    whole = peak - (len(early) - 1)
    if not 0 < peak < len(found) - 1:
        return whole / rate_hz
    below, at, above = found[peak - 1 : peak + 2]
    return float(whole + 0.5 * (below - above) / (below - 2.0 * at + above)) / rate_hz
