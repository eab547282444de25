"""The stations at which a path may be too tight for a mover's speed."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from choreo.courses import banking
from choreo.geometry import Path, banks_of, counted_per_m
from choreo.geometry.curvature import curvature_bounds
from choreo.geometry.poses import Stretch
from choreo.problem.records import CurvePoint, Steep

Array = NDArray[np.float64]

# Along a stretch curvature is linear and speed smooth: the limit is held at its ends and quarters;
# what passes it in between is found by dense looks, and tightened (solve/between.py).
POINTS_PER_STRETCH = 5
# A fine path has at most two points a bin: each is one more unknown and two more rows.
MOST_BINS = 24
# A point's own curvature is looked at so far inside its stretch, as a share of its length ...
INSIDE = 1e-6
# ... and what is lower by more than this share has been raised by a margin.
RAISED_RATIO = 1e-5
# Stations that differ by less than this (m) are the same.
SAME_M = 1e-6


def curve_points(path: Path, lateral_mps2: float, fastest_mps: float) -> tuple[CurvePoint, ...]:
    """Give the stations where speed^2 * |curvature| could pass the lateral limit.

    lateral_mps2: may be inf (then none). fastest_mps: the mover never goes faster. Stretches that are
    harmless even at that speed are left out; a fine path is thinned by keeping each bin's tightest.
    """
    if math.isinf(lateral_mps2):
        return ()
    harmless = lateral_mps2 / fastest_mps**2 if fastest_mps > 0 else math.inf
    stretches = counted_stretches(path, lateral_mps2)
    tight = [
        (number, *stretch)
        for number, stretch in enumerate(stretches)
        if max(abs(stretch[2]), abs(stretch[3])) > harmless
    ]
    if not tight:
        return ()
    number, start, end, at_start, at_end = np.array(tight).T[:, :, None]
    share = np.arange(POINTS_PER_STRETCH) / (POINTS_PER_STRETCH - 1)
    stations = (start + share * (end - start)).ravel()
    curvatures = np.abs(at_start + share * (at_end - at_start)).ravel()
    if len(stations) > 2 * MOST_BINS:
        return tuple(_thinned(stations, curvatures))
    numbers = np.repeat(number.ravel().astype(int), POINTS_PER_STRETCH)
    looked = start + np.clip(share, INSIDE, 1.0 - INSIDE) * (end - start)
    known = np.abs(path.pose(looked.ravel()).curvature_per_m)
    known = counted_per_m(path, looked.ravel(), known, lateral_mps2)
    lower = known < curvatures * (1.0 - RAISED_RATIO)
    raised = lower.reshape(-1, POINTS_PER_STRETCH).any(axis=1).repeat(POINTS_PER_STRETCH)
    values = (numbers, stations, np.append(stations[1:], np.nan), curvatures, known, raised)
    return tuple(
        CurvePoint(which, at, bend, own, _least_per_m(path, at, behind, lateral_mps2))
        if above
        else CurvePoint(which, at, bend)
        for which, at, behind, bend, own, above in zip(*(v.tolist() for v in values), strict=True)
    )


def _least_per_m(path: Path, low_m: float, high_m: float, lateral_mps2: float) -> float:
    """A bound from below of |curvature| in 1/m between two stations in m, as it counts against a lateral limit."""
    found = curvature_bounds(path, low_m, high_m) if high_m > low_m else None
    if found is None or found[0] <= 0.0 <= found[1]:
        return 0.0
    middle = np.array([(low_m + high_m) / 2.0])
    least = np.array([min(abs(found[0]), abs(found[1]))])
    return float(counted_per_m(path, middle, least, lateral_mps2)[0])


def counted_stretches(path: Path, lateral_mps2: float) -> tuple[Stretch, ...]:
    """Give the stretches of a path with the curvatures that count against a lateral limit: less on a bank."""
    stretches = path.stretches()
    if not banks_of(path):
        return stretches
    middles = np.array([(start + end) / 2.0 for start, end, _, _ in stretches])
    shares = counted_per_m(path, middles, np.ones(len(middles)), lateral_mps2).tolist()
    return tuple(
        (start, end, share * k0, share * k1)
        for (start, end, k0, k1), share in zip(stretches, shares, strict=True)
    )


def steeps_of(path: Path, lateral_mps2: float) -> tuple[Steep, ...]:
    """Give the banked stretches of a path down which a mover with a lateral limit slides when it is slow."""
    if math.isinf(lateral_mps2):
        return ()
    found, friction = [], lateral_mps2 / banking.GRAVITY_MPS2
    # A bank begins and ends where stretches do, and both are in order.
    banks = iter((*banks_of(path), (math.inf, math.inf, 0.0)))
    start, end, bank = next(banks)
    for low, high, k_low, k_high in path.stretches():
        while end < high - SAME_M:
            start, end, bank = next(banks)
        if start > low + SAME_M or k_low * k_high == 0.0:
            continue
        begin, behind = (banking.lowest_mps(1.0 / abs(k), bank, friction) for k in (k_low, k_high))
        if min(begin, behind) > 0.0:
            neutral = banking.neutral_mps(1.0 / max(abs(k_low), abs(k_high)), bank)
            found.append(Steep(low, high, (begin, behind), neutral))
    return tuple(found)


def _thinned(stations: Array, curvatures: Array) -> Iterator[CurvePoint]:
    """The two ends of each bin of points (stations in m and curvatures in 1/m, shape (n,) each)."""
    firsts = np.arange(0, len(stations), math.ceil(len(stations) / MOST_BINS))
    lasts = np.append(firsts[1:], len(stations)) - 1
    for number, tightest in enumerate(np.maximum.reduceat(curvatures, firsts).tolist()):
        # Both ends of a bin carry its tightest curvature: safe for every station inside, and
        # marked by a negative stretch, because the path itself may be wider there.
        yield CurvePoint(-1 - number, float(stations[firsts[number]]), tightest)
        yield CurvePoint(-1 - number, float(stations[lasts[number]]), tightest)
