"""Which points stand for a footprint's outline, and which for the corners that it must keep off."""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

Array = NDArray[np.float64]

# Outlines of more corners are simplified first.
MOST_CORNERS = 120
# Along its edges a footprint is looked at in about so many places.
BETWEEN_CORNERS = 96
# So many corners that reach into the site, and points between them, are looked at.
MOST_REFLEX_POINTS = 200
MOST_BETWEEN_POINTS = 96
# Simplifying begins with this (m).
FINEST_SIMPLIFICATION_M = 0.01
# Between points on edges that a footprint could straddle; bodies are not much narrower.
SITE_SPACING_M = 1.0


def outline_points(footprint: BaseGeometry) -> Array:
    """Give corners of a footprint, shape (n, 2), in m: a subset, the most spread ones first.

    What is left out lies near the chords between those that are kept.
    """
    tolerance_m = FINEST_SIMPLIFICATION_M
    corners = _corners(shapely.simplify(footprint, tolerance_m, preserve_topology=True))
    while len(corners) > MOST_CORNERS and tolerance_m < 1.0:
        tolerance_m *= 2
        corners = _corners(shapely.simplify(footprint, tolerance_m, preserve_topology=True))
    step_m = max(footprint.length / BETWEEN_CORNERS, SITE_SPACING_M)
    whole = np.concatenate((corners, _corners(shapely.segmentize(footprint, step_m))))
    between = spread(whole, BETWEEN_CORNERS)
    return _distinct(between, corners)


def reflex_points(drivable: BaseGeometry) -> Array:
    """Give boundary points at which a drivable region is reflex, or lies beside such a corner or a narrow gap.

    Between two polygons that don't touch, the least distance has a corner of one of them at one end: at
    these it may be the region's. Returns shape (n, 2), in m, the corners first.
    """
    corners, between = [np.empty((0, 2))], [np.empty((0, 2))]
    parts = shapely.get_parts(drivable)
    for index, polygon in enumerate(parts):
        others = shapely.multipolygons(np.delete(parts, index))
        for ring in shapely.get_rings(orient(polygon)):
            points = shapely.get_coordinates(ring)[:-1]
            ends = np.roll(points, -1, 0)
            reflex = _reflex(points)
            corners.append(points[reflex])
            edges = shapely.linestrings(np.stack((points, ends), axis=1))
            facing = shapely.dwithin(edges, others, SITE_SPACING_M)
            beside = reflex | np.roll(reflex, -1)
            for first, then, of_edge, of_gap in zip(points, ends, beside, facing, strict=True):
                if of_edge or of_gap:
                    along = np.concatenate((first[None, :], _between(first, then)))
                    near = shapely.dwithin(shapely.points(along), others, SITE_SPACING_M)
                    between.append(along[1:] if of_edge else along[near])
    first_ones = spread(np.concatenate(corners), MOST_REFLEX_POINTS)
    others = spread(np.concatenate(between), MOST_BETWEEN_POINTS)
    return np.concatenate((first_ones, others))


def spread(points_m: Array, most: int) -> Array:
    """Give at most that many points of shape (n, 2), in m, each the farthest from those before it."""
    if len(points_m) == 0 or most <= 0:
        return np.empty((0, 2))
    away = points_m - points_m.mean(axis=0)
    chosen = [int(np.argmax((away**2).sum(axis=1)))]
    least = ((points_m - points_m[chosen[0]]) ** 2).sum(axis=1)
    while len(chosen) < min(most, len(points_m)):
        following = int(np.argmax(least))
        if least[following] == 0:
            break
        chosen.append(following)
        least = np.minimum(least, ((points_m - points_m[following]) ** 2).sum(axis=1))
    return points_m[chosen]


def _distinct(first_m: Array, then_m: Array) -> Array:
    """Points of both, each once, in order."""
    both = np.concatenate((first_m, then_m))
    _, index = np.unique(both, axis=0, return_index=True)
    return np.asarray(both[np.sort(index)])


def _corners(geometry: BaseGeometry) -> Array:
    return np.unique(np.asarray(shapely.get_coordinates(geometry), dtype=np.float64), axis=0)


def _reflex(points_m: Array) -> NDArray[np.bool_]:
    """Where a ring with its region on the left turns right."""
    back, ahead = points_m - np.roll(points_m, 1, 0), np.roll(points_m, -1, 0) - points_m
    return np.asarray(back[:, 0] * ahead[:, 1] - back[:, 1] * ahead[:, 0] < 0)


def _between(first_m: Array, then_m: Array) -> Array:
    count = math.ceil(float(np.hypot(*(then_m - first_m))) / SITE_SPACING_M)
    shares = np.arange(1, count)[:, None] / max(count, 1)
    return np.asarray(first_m + shares * (then_m - first_m))
