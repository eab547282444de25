"""Areas in plain numbers, for whoever draws them or looks past them."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from choreo.ground.record import Ground
from choreo.words.records import dataclass

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
    obstacles = () if ground is None else ground.obstacles.values()
    return [np.array(_open(one.exterior)) for one in obstacles]


def _open(ring: BaseGeometry) -> Ring:
    """The corners of a ring of shapely without the last one, which repeats the first."""
    return tuple((float(x), float(y)) for x, y in shapely.get_coordinates(ring)[:-1])
