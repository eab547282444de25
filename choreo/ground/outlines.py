"""Areas in plain numbers, for whoever draws them or looks past them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from choreo.ground.record import Ground
from choreo.words.records import dataclass

# Parts smaller than this (m2) are not worth drawing.
SPECK_M2 = 0.01

Corner = tuple[float, float]
Ring = tuple[Corner, ...]


@dataclass(frozen=True, slots=True)
class Outline:
    """An area in site m: polygons, each as open rings (outline first, then holes); a place inside, for its name."""

    polygons: tuple[tuple[Ring, ...], ...]
    inside_m: Corner


def outline_of(area: BaseGeometry) -> Outline:
    """Give the outline of an area made of polygons."""
    polygons = tuple(
        tuple(_open(ring) for ring in (part.exterior, *part.interiors))
        for part in shapely.get_parts(area)
    )
    inside = area.representative_point()
    return Outline(polygons, (float(inside.x), float(inside.y)))


def obstacle_corners(ground: Ground | None) -> list[NDArray[np.float64]]:
    """Give the corners of a ground's obstacles in site m, each of shape (k, 2); none without a ground."""
    obstacles = {} if ground is None else corners_by_name(ground)
    return [np.array(one) for one in obstacles.values()]


def corners_by_name(ground: Ground) -> dict[str, Ring]:
    """Give the corners of a ground's obstacles in site m, by name."""
    return {name: _open(one.exterior) for name, one in ground.obstacles.items()}


def outside_of(ground: Ground, polygons: Sequence[Sequence[Ring]]) -> Outline | None:
    """Give what of polygons (site m, rings, outer first) is off the drivable ground; None where nothing is."""
    area = shapely.MultiPolygon([shapely.Polygon(rings[0], rings[1:]) for rings in polygons])
    off = area.buffer(0.0).difference(ground.drivable)
    parts = [one for one in shapely.get_parts(off) if one.area > SPECK_M2]
    return outline_of(shapely.MultiPolygon(parts)) if parts else None


def nearest_of(corners: Sequence[Corner], aim: Sequence[Corner]) -> tuple[float, Corner]:
    """Give how far (m) a body is from another one, or from a single point, and where of that it is nearest.

    corners, aim: convex polygons in site m, aim with one corner for a point.
    """
    other = shapely.Polygon(aim) if len(aim) > 1 else shapely.Point(aim[0])
    way = shapely.shortest_line(shapely.Polygon(corners), other)
    (_, end) = shapely.get_coordinates(way)
    return float(shapely.length(way)), (float(end[0]), float(end[1]))


def _open(ring: BaseGeometry) -> Ring:
    """The corners of a ring of shapely without the last one, which repeats the first."""
    return tuple((float(x), float(y)) for x, y in shapely.get_coordinates(ring)[:-1])
