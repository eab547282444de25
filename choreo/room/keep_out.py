"""The keep-out zone: everything swept by plan or by a stop, widened by errors and a margin, as polygons."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from choreo.plans.room_record import KeepOut, Ring
from choreo.room.tolerances import OUTLINE_M, ROUNDING

# A hole of a zone that is nowhere wider than this isn't one that is told.
NARROW_M = 1.0


def widened(area: BaseGeometry, by_m: float) -> BaseGeometry:
    """Give an area that holds everything within by_m of another: rounded corners are never cut.

    A circle is drawn as a polygon; its corners are set outside so that no edge cuts the circle.
    """
    outside = by_m / np.cos(np.pi / (4 * ROUNDING))
    return shapely.buffer(area, outside, quad_segs=ROUNDING)


def keep_out_of(areas: Iterable[BaseGeometry], error_m: float, margin_m: float) -> KeepOut:
    """Make the zone of what several movers sweep; error_m, margin_m: by how much it is widened."""
    together = shapely.union_all(list(areas))
    wide = widened(together, error_m + margin_m + OUTLINE_M)
    zone = without_slivers(shapely.simplify(wide, OUTLINE_M))
    return KeepOut(margin_m, error_m, float(zone.area), float(together.area), polygons_of(zone))


def without_slivers(area: BaseGeometry) -> BaseGeometry:
    """Give an area (m) with its narrow holes filled: in those nobody can stand, and a zone may only grow."""
    filled = []
    for part in shapely.get_parts(area):
        if isinstance(part, shapely.Polygon):
            holes = [one for one in part.interiors if _roomy(shapely.Polygon(one))]
            filled.append(shapely.Polygon(part.exterior, holes))
        else:
            filled.append(part)
    return shapely.union_all(filled)


def _roomy(hole: shapely.Polygon) -> bool:
    return not shapely.buffer(hole, -NARROW_M / 2).is_empty


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
