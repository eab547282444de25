"""The ground of a site as shapely geometry, in metres of the site frame."""

from __future__ import annotations

from collections.abc import Mapping

from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from choreo.scenario import AnchorSpec
from choreo.words.records import dataclass


@dataclass(frozen=True)
class Area:
    """A drivable piece of one surface.

    polygon: holes cut, several pieces where holes divide it. friction: peak braking coefficient, None where
    the site gives none. The ground rises by grade_ratio (m per m) in the site heading uphill_rad.
    """

    name: str
    polygon: Polygon | MultiPolygon
    friction: float | None
    grade_ratio: float
    uphill_rad: float


@dataclass(frozen=True, eq=False)
class Ground:
    """A site's ground; drivable: its areas united (seams.py) without its obstacles, never empty."""

    title: str
    areas: tuple[Area, ...]
    obstacles: Mapping[str, Polygon]
    drivable: BaseGeometry
    anchor: AnchorSpec | None

    def areas_under(self, shape: BaseGeometry) -> tuple[Area, ...]:
        """Give the areas that a shape (site frame, m) lies on, even with a part of it only.

        Where areas overlap all of them are given: which surface counts there is not known.
        """
        return tuple(area for area in self.areas if area.polygon.intersects(shape))
