"""When a body is seen: samples of its visible share over time, and the instants at which it crosses a share."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from choreo.geometry.poses import Array
from choreo.sight.visibility import visible_shares
from choreo.words.records import dataclass

Mask = NDArray[np.bool_]

# A glimpse shorter than this (s) may be overlooked; at 50 km/h it is 0.3 m of way.
CLOCK_S = 0.02
# Instants are bracketed to this (s).
INSTANT_S = 1e-6
# The wanted share less this part of itself counts as reached: rounding must not hide a body that is all seen.
REACHED_RATIO = 1e-9


@dataclass(frozen=True, slots=True)
class View:
    """What an eye has before it at n instants, in m.

    eyes_m: (n, 2); targets_m: the target's corners, (n, k, 2); edges_m: of all that may hide it, (n, m, 2, 2).
    """

    eyes_m: Array
    targets_m: Array
    edges_m: Array

    def shares(self) -> Array:
        """Give the visible share of the target at each instant, shape (n,), 0 to 1."""
        return visible_shares(self.eyes_m, self.targets_m, self.edges_m)

    def reaches(self, share: float) -> Mask:
        """Say at each instant whether at least a share is seen, shape (n,)."""
        return self.shares() >= share * (1 - REACHED_RATIO)


ViewAt = Callable[[Array], View]


@dataclass(frozen=True, slots=True)
class Seen:
    """When at least a share is seen, within 0 and the end looked at: episodes (from, to) in s.

    first_s: when the first of them begins, None: never. stays: it lasts to the end that was looked at.
    """

    first_s: float | None
    stays: bool
    episodes: tuple[tuple[float, float], ...]


def first_seen(view_at: ViewAt, share: float, end_s: float) -> Seen:
    """Find when at least a share of the target is seen, from go to end_s; instants to a microsecond.

    view_at: the view at times in s after go, shape (n,). share: above 0, up to 1.
    """
    count = max(2, math.ceil(end_s / CLOCK_S) + 1)
    times = np.linspace(0.0, max(end_s, 0.0), count)
    seen = _seen(view_at, share, times)
    turns = np.flatnonzero(seen[1:] != seen[:-1])
    before, after = times[turns], times[turns + 1]
    rises = seen[turns + 1]
    if len(turns):
        # All instants at once: each halves its own interval; the seen side is what is reported.
        for _ in range(math.ceil(math.log2(CLOCK_S / INSTANT_S))):
            middle = (before + after) / 2
            late = _seen(view_at, share, middle) == rises
            before, after = np.where(late, before, middle), np.where(late, middle, after)
    begins = ([0.0] if seen[0] else []) + after[rises].tolist()
    ends = before[~rises].tolist() + ([float(times[-1])] if seen[-1] else [])
    episodes = tuple(zip(begins, ends, strict=True))
    if not episodes:
        return Seen(None, False, ())
    return Seen(episodes[0][0], len(episodes) == 1 and bool(seen[-1]), episodes)


def _seen(view_at: ViewAt, share: float, times_s: Array) -> Mask:
    return view_at(times_s).reaches(share)
