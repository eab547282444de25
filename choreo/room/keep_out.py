"""The keep-out zone: everything swept by plan or by a stop, widened by errors and a margin, as polygons."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from choreo.plans.room_record import KeepOut, Ring
from choreo.room.tolerances import OUTLINE_M, ROUNDING


def widened(area: BaseGeometry, by_m: float) -> BaseGeometry:
    """Give an area that holds everything within by_m of another: rounded corners are never cut.

    A circle is drawn as a polygon; its corners are set outside so that no edge cuts the circle.
    """
    outside = by_m / np.cos(np.pi / (4 * ROUNDING))
    return shapely.buffer(area, outside, quad_segs=ROUNDING)


def keep_out_of(areas: Iterable[BaseGeometry], error_m: float, margin_m: float) -> KeepOut:
    """Make the zone of what several movers sweep; error_m, margin_m: by how much it is widened."""
    together = shapely.union_all(list(areas))
    zone = shapely.simplify(widened(together, error_m + margin_m + OUTLINE_M), OUTLINE_M)
    return KeepOut(margin_m, error_m, float(zone.area), float(together.area), polygons_of(zone))


def polygons_of(area: BaseGeometry) -> tuple[tuple[Ring, ...], ...]:
    """Give the polygons of an area as rings of (x, y) in m, closed, outer rings counter-clockwise, holes not."""
    found = []
    for polygon in shapely.get_parts(area):
        if polygon.geom_type != "Polygon" or polygon.is_empty:
            continue
        right = orient(polygon)
        rings = (right.exterior, *right.interiors)
        found.append(
            tuple(tuple((round(x, 4), round(y, 4)) for x, y in ring.coords) for ring in rings)
        )
    return tuple(found)
