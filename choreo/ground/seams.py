"""Areas that adjoin become one piece of ground: the cracks that rounded corners leave between them are closed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

# Corners are written to the centimetre at the coarsest: two sides that were one are then this far apart at most.
MOST_CRACK_M = 0.02
# For a gap of just that width, whatever its numbers are rounded to.
ROUNDING_M = 1e-4
# Less ground than this, in m2, is the noise of crossing lines.
SPECK_M2 = 1e-6
# Patches reach into the ground on both sides: seams of pieces that only touch would be cracks again.
REACH_M = MOST_CRACK_M + 0.005


def united(areas: Sequence[BaseGeometry]) -> BaseGeometry:
    """Give the union of areas (m), with gaps up to MOST_CRACK_M between different ones closed.

    A gap is closed where the union, widened by half of MOST_CRACK_M and narrowed again, covers it (a closing in the
    sense of mathematical morphology, with mitred corners) within REACH_M of two areas. Outer edges stay, and so do
    narrow holes and notches of one area: those are drawn on purpose.
    """
    union = shapely.union_all(list(areas))
    near = _near(areas)
    if not near:
        return union
    touched = sorted({index for pair in near for index in pair})
    wider = dict(
        zip(touched, shapely.buffer([areas[one] for one in touched], REACH_M), strict=True)
    )
    patches = shapely.union_all([wider[a].intersection(wider[b]) for a, b in near])
    meant = shapely.union_all([hole for area in areas for hole in _narrow_holes(area)])
    others = shapely.union_all([areas[one] for one in touched])
    half_m = MOST_CRACK_M / 2 + ROUNDING_M
    closed = union.buffer(half_m, join_style="mitre").buffer(-half_m, join_style="mitre")
    kept = closed.intersection(patches).difference(meant.difference(others))
    return _without_specks(shapely.union_all([union, kept]))


def _near(areas: Sequence[BaseGeometry]) -> list[tuple[int, int]]:
    """Pairs of areas that a crack may lie between, each once."""
    tree = shapely.STRtree(list(areas))
    first, second = tree.query(
        np.array(areas, dtype=object), predicate="dwithin", distance=MOST_CRACK_M + ROUNDING_M
    )
    return [(int(a), int(b)) for a, b in zip(first, second, strict=True) if a < b]


def _without_specks(ground: BaseGeometry) -> BaseGeometry:
    """The same without holes that are noise: through one of them a crack would still be an edge of the ground."""
    parts = [one for one in shapely.get_parts(ground) if isinstance(one, Polygon)]
    whole = [
        Polygon(part.exterior, [one for one in part.interiors if Polygon(one).area > SPECK_M2])
        for part in parts
    ]
    return whole[0] if len(whole) == 1 else MultiPolygon(whole)


def _narrow_holes(area: BaseGeometry) -> list[Polygon]:
    """Holes of an area that a closing would fill."""
    holes = [
        Polygon(ring)
        for part in shapely.get_parts(area)
        if isinstance(part, Polygon)
        for ring in part.interiors
    ]
    half_m = MOST_CRACK_M / 2 + ROUNDING_M
    return [hole for hole in holes if hole.buffer(-half_m).is_empty]
