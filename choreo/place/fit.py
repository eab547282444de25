"""How well a footprint fits at a pose: exactly, as a quick guess, and at most anywhere in a box of poses.

Poses move the footprint's own frame in the site's own frame. The margin of a pose is the least depth in
the drivable region over all points of the footprint. Depth changes by no more than a point moves, and over
a box of poses a point at a lever from the footprint's middle moves by at most half the box's diagonal plus
2 lever sin(half angle / 2). So any few points of the footprint bound the margin from above; so do any
points of the region's boundary, seen from the footprint.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from choreo.place.field import Field, Region, field_of, region_of
from choreo.place.rigid import Rigid
from choreo.place.samples import outline_points, reflex_points

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

# Points are looked at in stages: most boxes fall at the first few.
STAGES = (8, 24, 72, 10_000)
# Boxes so small, in errors of the raster, are looked at more closely; exactly where they are few.
CLOSE_BELOW = 12.0
MOST_PAIRS = 1_000_000
# How long a closer look takes, in looks at the raster, and an exact one for each edge.
CLOSE_LOOKS = 4.0
PAIR_LOOKS = 0.3
RIM_M = 5.0
MOST_RIM_M = 60.0


@dataclass(frozen=True, slots=True)
class Boxes:
    """Boxes of poses: middles in m and rad, half widths in m (along x and y) and rad; all of shape (n,).

    group: which direction and area each belongs to.
    """

    x_m: Array
    y_m: Array
    angle_rad: Array
    half_m: Array
    half_rad: Array
    group: NDArray[np.int32]

    def __len__(self) -> int:
        return len(self.x_m)

    def reach_m(self, radius_m: float) -> Array:
        """Give how far a point within that radius moves at most between a box's middle and its poses."""
        turn = 2 * np.sin(np.minimum(self.half_rad, math.pi) / 2)
        return np.asarray(math.sqrt(2) * self.half_m + radius_m * turn)

    def only(self, which: slice | Mask | NDArray[np.int64]) -> Boxes:
        """Give some of them."""
        return Boxes(
            self.x_m[which],
            self.y_m[which],
            self.angle_rad[which],
            self.half_m[which],
            self.half_rad[which],
            self.group[which],
        )


class Look(Enum):
    """How closely depths are looked at; none gives less than there is."""

    QUICK = "raster"
    CLOSE = "edge nearest to the cell"
    EXACT = "every edge"


@dataclass(frozen=True, slots=True)
class Fit:
    """A footprint and a drivable region, each in its own frame, with what makes looking quick."""

    footprint: BaseGeometry
    site: Region
    site_field: Field
    points_m: Array
    shape: Region
    shape_field: Field
    corners_m: Array
    radius_m: float

    def margin_m(self, pose: Rigid) -> float:
        """Give the margin of a pose, exactly, in m; -inf where the footprint is not wholly inside."""
        return exact_margin_m(self.site.geometry, pose.geometry(self.footprint))

    def guess_m(self, x_m: Array, y_m: Array, angle_rad: Array, look: Look) -> Array:
        """Give the least depth over the sample points, in m, at poses of shape (n,)."""
        least = np.full(len(x_m), np.inf)
        for corners, source in ((False, self.points_m), (True, self.corners_m)):
            if len(source):
                depths, _ = self._depths(source, corners, (x_m, y_m, angle_rad), look)
                least = np.minimum(least, depths.min(axis=1))
        return least

    def bound_m(
        self, boxes: Boxes, alive: Callable[[Array, Boxes], Mask]
    ) -> tuple[Array, Array, float]:
        """Give what the margin is at most over each box, and a guess at its middle, in m, shape (n,).

        alive: tells from bounds which boxes are worth looking at more of; the guess at others is -inf.
        The third result is the effort, in looks at the raster.
        """
        effort = 0.0
        bounds, guesses = np.full(len(boxes), np.inf), np.full(len(boxes), np.inf)
        left = np.arange(len(boxes))
        for corners, source in self._stages():
            if len(left) == 0 or len(source) == 0:
                continue
            some = boxes.only(left)
            look = self._look(some, len(source), corners)
            place = (some.x_m, some.y_m, some.angle_rad)
            depths, levers = self._depths(source, corners, place, look)
            effort += depths.size * self._price(look, corners)
            guesses[left] = np.minimum(guesses[left], depths.min(axis=1))
            turn = 2 * np.sin(np.minimum(some.half_rad, math.pi) / 2)
            depths += levers * turn[:, None]
            bounds[left] = np.minimum(
                bounds[left], depths.min(axis=1) + math.sqrt(2) * some.half_m
            )
            still = alive(bounds[left], some)
            guesses[left[~still]] = -np.inf
            left = left[still]
        return bounds, guesses, effort

    def _stages(self) -> list[tuple[bool, Array]]:
        edges = [0, *STAGES]
        cuts = [slice(low, high) for low, high in zip(edges, edges[1:], strict=False)]
        outline = [(False, self.points_m[cut]) for cut in cuts]
        return outline + [(True, self.corners_m[cut]) for cut in cuts]

    def _look(self, boxes: Boxes, points: int, corners: bool) -> Look:
        region, field = self._against(corners)
        if float(boxes.half_m.max()) > CLOSE_BELOW * field.error_m:
            return Look.QUICK
        pairs = len(boxes) * points * region.edge_count
        return Look.EXACT if pairs < MOST_PAIRS else Look.CLOSE

    def _price(self, look: Look, corners: bool) -> float:
        if look is Look.EXACT:
            return PAIR_LOOKS * self._against(corners)[0].edge_count
        return CLOSE_LOOKS if look is Look.CLOSE else 1.0

    def _against(self, corners: bool) -> tuple[Region, Field]:
        return (self.shape, self.shape_field) if corners else (self.site, self.site_field)

    def _depths(
        self, source: Array, corners: bool, place: tuple[Array, Array, Array], look: Look
    ) -> tuple[Array, Array]:
        """What depths of points are at most, shape (n poses, k points), and the points' levers."""
        x_m, y_m, angle_rad = (one[:, None] for one in place)
        cos, sin = np.cos(angle_rad), np.sin(angle_rad)
        if corners:
            away_x, away_y = source[:, 0] - x_m, source[:, 1] - y_m
            at_x, at_y = cos * away_x + sin * away_y, cos * away_y - sin * away_x
            levers = np.hypot(at_x, at_y)
        else:
            at_x = cos * source[:, 0] - sin * source[:, 1] + x_m
            at_y = sin * source[:, 0] + cos * source[:, 1] + y_m
            levers = np.hypot(source[:, 0], source[:, 1])
        region, field = self._against(corners)
        if look is Look.EXACT:
            return region.depth_m(at_x, at_y), levers
        if look is Look.CLOSE:
            return field.close_m(at_x, at_y), levers
        return field.most_m(at_x, at_y), levers


def fit_of(footprint: BaseGeometry, drivable: BaseGeometry, *, beyond_m: float = RIM_M) -> Fit:
    """Make a footprint and a drivable region, each in its own frame, ready for search.

    beyond_m: how far beyond the region depths are to be told from each other.
    """
    site, shape = region_of(drivable), region_of(footprint, -1)
    site_field = field_of(site, beyond_m)
    points = outline_points(footprint)
    corners = reflex_points(drivable)
    rim_m = min(max(float(site_field.cells_m.max()), RIM_M), MOST_RIM_M)
    radius_m = float(np.hypot(points[:, 0], points[:, 1]).max())
    return Fit(
        footprint, site, site_field, points, shape, field_of(shape, rim_m), corners, radius_m
    )


def exact_margin_m(drivable: BaseGeometry, placed: BaseGeometry) -> float:
    """Give the distance from a placed footprint to the region's edge, in m; -inf where it isn't inside."""
    if not shapely.covers(drivable, placed):
        return -math.inf
    return float(shapely.distance(shapely.boundary(drivable), placed))
