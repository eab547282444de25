"""Between which values a path's curvature lies on a stretch: bounds that hold, not samples."""

from __future__ import annotations

import numpy as np

from choreo.geometry.curve import CurvePath
from choreo.geometry.loop import LoopPath
from choreo.geometry.parallel import ParallelPath
from choreo.geometry.poses import Path
from choreo.geometry.surveyed import SurveyedPath

Interval = tuple[float, float]


def curvature_range(path: Path, low_m: float, high_m: float) -> Interval | None:
    """Give the least and the greatest curvature (1/m) between two stations of a path, beyond its ends too.

    None where it is known neither exactly nor cheaply: of surveyed paths, and of what runs beside them.
    """
    match path:
        case LoopPath():
            return _round(path, low_m, high_m)
        case CurvePath():
            found = _of_stretches(path, low_m, high_m)
        case ParallelPath(base=CurvePath()):
            found = _beside(path, low_m, high_m)
        case _:
            return None
    outside = low_m < 0.0 or high_m > path.length_m
    return (min(found[0], 0.0), max(found[1], 0.0)) if outside else found


def curvature_bounds(path: Path, low_m: float, high_m: float) -> Interval | None:
    """Give bounds of the curvature (1/m) between two stations inside a path, surveyed or not.

    None of a path that goes round, or that no scenario has.
    """
    match path:
        case SurveyedPath():
            return path.curvature_between(low_m, high_m)
        case ParallelPath():
            return _beside(path, low_m, high_m)
        case _:
            return curvature_range(path, low_m, high_m)


def _beside(path: ParallelPath, low_m: float, high_m: float) -> Interval:
    base_m = np.clip(path.base_station(np.array([low_m, high_m])), *path.window_m)
    ends_m = float(base_m.min()), float(base_m.max())
    if isinstance(path.base, SurveyedPath):
        bends = path.base.curvature_between(*ends_m)
    else:
        bends = _of_stretches(path.base, *ends_m)
    ends = (one / (1.0 - path.offset_m * one) for one in bends)
    return _sorted(*(-one if path.is_reversed else one for one in ends))


def _round(path: LoopPath, low_m: float, high_m: float) -> Interval | None:
    lap = path.lap_m
    first = low_m % lap
    last = min(first + high_m - low_m, first + lap)
    parts = [(first, min(last, lap))] + ([(0.0, last - lap)] if last > lap else [])
    found = [curvature_range(path.lap, *part) for part in parts]
    known = [one for one in found if one is not None]
    if len(known) < len(found):
        return None
    return min(one[0] for one in known), max(one[1] for one in known)


def turned_rad(path: Path) -> float:
    """Give by how much a path turns at the most, left and right added up."""
    return sum(abs(k0 + k1) / 2 * (end - start) for start, end, k0, k1 in path.stretches())


def _of_stretches(path: Path, low_m: float, high_m: float) -> Interval:
    least, most = float("inf"), float("-inf")
    for start, end, k0, k1 in path.stretches():
        first, last = max(start, low_m), min(end, high_m)
        if first > last:
            continue
        rate = (k1 - k0) / (end - start) if end > start else 0.0
        ends = (k0 + rate * (first - start), k0 + rate * (last - start))
        least, most = min(least, *ends), max(most, *ends)
    return (least, most) if least <= most else (0.0, 0.0)


def _sorted(one: float, other: float) -> Interval:
    return (one, other) if one <= other else (other, one)
