"""The surface under a way: the worst of every area that it comes near."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from choreo.ground.record import Area, Ground
from choreo.ground.surface import LEVEL, Surface

Array = NDArray[np.float64]

# Grades that differ by less, and smaller ones, are rounding.
SAME_GRADE = 1e-9


def surface_under(
    ground: Ground, x_m: Array, y_m: Array, heading_rad: Array, reach_m: float
) -> tuple[Surface, bool]:
    """Give the worst surface within reach_m of points of a way, and whether all of the way is alike.

    x_m, y_m, heading_rad: shape (n,), site frame. Where areas overlap, and where a body reaches into several, the least
    friction and the steepest slopes count. Off all areas nothing is known: nothing is taken away there.
    """
    points = shapely.points(x_m, y_m)
    worst = LEVEL
    kinds = []
    everywhere = True
    for area in ground.areas:
        near = shapely.distance(points, area.polygon) <= reach_m
        if not near.any():
            continue
        everywhere &= bool(near.all())
        here = _in_headings(area, heading_rad[near])
        worst = worst.with_worse(here)
        kinds.append(here)
    alike = len(set(kinds)) == 1 and everywhere and _straight(kinds[0], heading_rad)
    return worst, alike or not kinds


def surface_in(ground: Ground, shape: BaseGeometry, heading_rad: Array) -> Surface:
    """Give the worst surface of all areas that a shape (site frame, m) lies on, for directions of travel in rad."""
    worst = LEVEL
    for area in ground.areas_under(shape):
        worst = worst.with_worse(_in_headings(area, heading_rad))
    return worst


def worst_surface(ground: Ground) -> Surface:
    """Give the worst that the whole site has, in whatever direction it is driven."""
    frictions = [area.friction for area in ground.areas if area.friction is not None]
    steepest = max((abs(area.grade_ratio) for area in ground.areas), default=0.0)
    return Surface(min(frictions, default=None), steepest, steepest, steepest)


def best_surface(ground: Ground) -> Surface:
    """Give the best that any way over the site can have: the most grip, and level ground."""
    if any(area.friction is None for area in ground.areas):
        return LEVEL
    return Surface(max((area.friction or 0.0 for area in ground.areas), default=None))


def _in_headings(area: Area, heading_rad: Array) -> Surface:
    """The worst of one area for directions of travel."""
    rises = area.grade_ratio * np.cos(heading_rad - area.uphill_rad)
    sides = area.grade_ratio * np.sin(heading_rad - area.uphill_rad)
    return Surface(
        area.friction,
        _grade(float(rises.max())),
        _grade(float(-rises.min())),
        _grade(float(np.abs(sides).max())),
    )


def _grade(ratio: float) -> float:
    return ratio if ratio > SAME_GRADE else 0.0


def _straight(surface: Surface, heading_rad: Array) -> bool:
    """Whether a slope is met in one direction only, so that its worst is met all along."""
    level = surface.uphill_ratio == surface.downhill_ratio == surface.side_ratio == 0.0
    return level or float(np.ptp(heading_rad)) < SAME_GRADE
