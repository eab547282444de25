"""The judge's own ramps: what durations and distances a change of speed can have.

Write u = a^2 / 2 as a function of speed. A jerk limit j means that u changes by at most j for each m/s, an
acceleration limit caps u, and without jumps u is 0 at both ends. The largest such u is a profile itself, so it
is the quickest and the shortest ramp at once. Every other monotone ramp spends more time at some of the
speeds; time t more at speed v adds t to the duration and v t to the distance. With v between the ramp's two
speeds, the possible (duration, distance) are the quickest plus any mixture of time at either end's speed.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

CELLS = 3000
Table = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Profile:
    """The quickest ramp on a grid of speeds from its first to its last: times and distances since."""

    speeds: np.ndarray
    times: np.ndarray
    ways: np.ndarray

    @property
    def lasts_s(self) -> float:
        return float(self.times[-1])

    @property
    def covers_m(self) -> float:
        return float(self.ways[-1])


@lru_cache(maxsize=4096)
def quickest(
    first: float, last: float, table: Table, jerk: float, end_jerk: float | None = None
) -> Profile:
    """The quickest ramp. end_jerk: another jerk at its end (inf: it may end with a jump)."""
    low, high = min(first, last), max(first, last)
    knots = [v for v, _ in table if low < v < high]
    v = np.unique(np.concatenate([np.linspace(low, high, CELLS + 1), knots]))
    u = np.interp(v, [one for one, _ in table], [a for _, a in table]) ** 2 / 2
    rising = last > first
    start_jerk, stop_jerk = jerk, jerk if end_jerk is None else end_jerk
    if not rising:
        start_jerk, stop_jerk = stop_jerk, start_jerk
    if math.isfinite(start_jerk):  # u(v) <= u(w) + j (v - w) for every w below v, and u(low) = 0
        u[0] = 0.0
        u = start_jerk * (v - low) + np.minimum.accumulate(u - start_jerk * (v - low))
    if math.isfinite(stop_jerk):
        u[-1] = 0.0
        back = stop_jerk * (high - v)
        u = back + np.minimum.accumulate((u - back)[::-1])[::-1]
    # Over a cell u is taken as linear in v: with a = sqrt(2 u) the integrals of dv/a and v dv/a are exact.
    a = np.sqrt(2 * np.maximum(u, 0.0))
    h, total = np.diff(v), a[1:] + a[:-1]
    times = 2 * h / total
    centre = (a[:-1] + 2 * a[1:]) / (3 * total)  # mean share of the cell, weighted by 1/a
    ways = times * (v[:-1] + h * _share(a, centre))
    if not rising:
        v, times, ways = v[::-1], times[::-1], ways[::-1]
    zero = np.zeros(1)
    return Profile(v, np.concatenate([zero, times.cumsum()]), np.concatenate([zero, ways.cumsum()]))


def _share(a: np.ndarray, _centre: np.ndarray) -> np.ndarray:
    """Mean of (v - v0)/h over a cell in time: time runs linearly in a there, and v - v0 as a^2 - a0^2."""
    a0, a1 = a[:-1], a[1:]
    return (a0 * 2 + a1) / (3 * (a0 + a1)) if False else (2 * a0 + a1) / (3 * (a0 + a1))
