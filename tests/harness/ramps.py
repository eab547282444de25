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

CELLS = 20_000
FEW_CELLS = 4000
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
    if len(table) == 1:  # where the jerk's branch meets the cap: exact with few cells
        reach = [table[0][1] ** 2 / 2 / one for one in (jerk, end_jerk or jerk)]
        kinks = [low + reach[0], low + reach[1], high - reach[0], high - reach[1]]
        share = 1 / (1 + (end_jerk or jerk) / jerk) if math.isfinite(jerk) else 0.5
        kinks += [low + (high - low) * one for one in (share, 1 - share, 0.5)]
        knots += [one for one in kinks if low < one < high]
    cells = CELLS if len(table) > 1 else FEW_CELLS
    v = np.unique(np.concatenate([np.linspace(low, high, cells + 1), knots]))
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
    # In time a is linear there, so the mean of (v - v0)/h over the cell is (2 a0 + a1) / 3 (a0 + a1).
    ways = times * (v[:-1] + h * (2 * a[:-1] + a[1:]) / (3 * total))
    if not rising:
        v, times, ways = v[::-1], times[::-1], ways[::-1]
    zero = np.zeros(1)
    return Profile(v, np.concatenate([zero, times.cumsum()]), np.concatenate([zero, ways.cumsum()]))


@lru_cache(maxsize=4096)
def even_ramps(
    first: float, last: float, table: Table, jerk: float
) -> tuple[tuple[float, float], ...]:
    """(duration, distance) of ramps that use one share of what is allowed, from all of it downwards.

    For sorting weaknesses only: some plans need a ramp that dwells at its start or its end.
    """
    found = []
    for share in (1.0, 0.7, 0.4, 0.2, 0.1, 0.03):
        part = quickest(first, last, tuple((v, share * a) for v, a in table), jerk)
        found.append((part.lasts_s, part.covers_m))
    return tuple(found)


def time_to_close(profile: Profile, speed: float, gap: float) -> float:
    """Seconds from the start of a braking to rest until a follower at constant speed has used up the gap."""
    closed = speed * profile.times - profile.ways
    if closed.max() < gap or closed[-1] < gap:  # it touches after the other has stopped
        return float((gap + profile.ways[-1]) / speed)
    here = int(np.argmax(closed >= gap))
    low, high = profile.times[here - 1], profile.times[here]
    v0, v1 = profile.speeds[here - 1], profile.speeds[here]
    a = (v1 - v0) / (high - low)
    for _ in range(60):
        middle = (low + high) / 2
        since = middle - profile.times[here - 1]
        way = profile.ways[here - 1] + v0 * since + a * since * since / 2
        low, high = (middle, high) if speed * middle - way < gap else (low, middle)
    return float((low + high) / 2)
