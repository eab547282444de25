"""The surface under a way: the worst of every area that it comes near."""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray

from choreo.ground.record import Ground
from choreo.ground.surface import LEVEL, Surface

Array = NDArray[np.float64]


def surface_under(
    ground: Ground, x_m: Array, y_m: Array, heading_rad: Array, reach_m: float
) -> tuple[Surface, bool]:
    """Give the worst surface within reach_m of points of a way, and whether all of the way is alike.

    x_m, y_m, heading_rad: shape (n,), site frame. Where areas overlap, and where a body reaches into several, the least
    friction and the steepest slopes count. Off all areas nothing is known: nothing is taken away there.
    """
    points = shapely.points(x_m, y_m)
    frictions: list[float] = []
    up, down = 0.0, 0.0
    kinds = set()
    on_any = np.zeros(len(x_m), dtype=bool)
    for area in ground.areas:
        near = shapely.distance(points, area.polygon) <= reach_m
        on_any |= near
        if not near.any():
            continue
        rises = area.grade_ratio * np.cos(heading_rad[near] - area.uphill_rad)
        up, down = max(up, float(rises.max())), max(down, float(-rises.min()))
        frictions += [] if area.friction is None else [area.friction]
        steady = float(np.ptp(rises)) < SAME_GRADE and bool(near.all())
        kinds.add((area.friction, round(float(rises.max()), 9) if steady else math.nan))
    if not on_any.any():
        return LEVEL, True
    alike = len(kinds) == 1 and bool(on_any.all()) and not _uneven(kinds)
    return Surface(min(frictions, default=None), up, down), alike


def worst_surface(ground: Ground) -> Surface:
    """Give the worst that the whole site has, in whatever direction it is driven."""
    frictions = [area.friction for area in ground.areas if area.friction is not None]
    steepest = max((abs(area.grade_ratio) for area in ground.areas), default=0.0)
    return Surface(min(frictions, default=None), steepest, steepest)


def best_surface(ground: Ground) -> Surface:
    """Give the best that any way over the site can have: the most grip, and level ground."""
    if any(area.friction is None for area in ground.areas):
        return LEVEL
    return Surface(max((area.friction or 0.0 for area in ground.areas), default=None), 0.0, 0.0)


def _uneven(kinds: set[tuple[float | None, float]]) -> bool:
    return any(math.isnan(rise) for _, rise in kinds)


SAME_GRADE = 1e-9
