"""The stations at which a path may be too tight for a mover's speed."""

from __future__ import annotations

import math

from choreo.geometry import Path
from choreo.problem.records import CurvePoint

# Along a stretch curvature is linear and speed smooth: the limit is held at its ends and quarters;
# what passes it in between is found by dense looks, and tightened (solve/between.py).
POINTS_PER_STRETCH = 5
# A fine path has at most two points a bin: each is one more unknown and two more rows.
MOST_BINS = 24


def curve_points(path: Path, lateral_mps2: float, fastest_mps: float) -> tuple[CurvePoint, ...]:
    """Give the stations where speed^2 * |curvature| could pass the lateral limit.

    lateral_mps2: may be inf (then none). fastest_mps: the mover never goes faster. Stretches that are
    harmless even at that speed are left out; a fine path is thinned by keeping each bin's tightest.
    """
    if math.isinf(lateral_mps2):
        return ()
    harmless = lateral_mps2 / fastest_mps**2 if fastest_mps > 0 else math.inf
    points = []
    for number, (start, end, at_start, at_end) in enumerate(path.stretches()):
        if max(abs(at_start), abs(at_end)) <= harmless:
            continue
        for step in range(POINTS_PER_STRETCH):
            share = step / (POINTS_PER_STRETCH - 1)
            curvature = abs(at_start + share * (at_end - at_start))
            points.append(CurvePoint(number, start + share * (end - start), curvature))
    return _thinned(points)


def _thinned(points: list[CurvePoint]) -> tuple[CurvePoint, ...]:
    if len(points) <= 2 * MOST_BINS:
        return tuple(points)
    size = math.ceil(len(points) / MOST_BINS)
    bins = [points[i : i + size] for i in range(0, len(points), size)]
    thinned = []
    for number, part in enumerate(bins):
        tightest = max(point.curvature_per_m for point in part)
        # Both ends of a bin carry its tightest curvature: safe for every station inside, and
        # marked by a negative stretch, because the path itself may be wider there.
        thinned += [
            CurvePoint(-1 - number, part[0].station_m, tightest),
            CurvePoint(-1 - number, part[-1].station_m, tightest),
        ]
    return tuple(thinned)
