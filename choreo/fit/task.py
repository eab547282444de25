"""What a search is given: the fit, and the groups in each of which a best pose is wanted."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from choreo.fit.boxes import Boxes, Mask, joined, points_as_boxes
from choreo.fit.depths import Fit
from choreo.fit.directions import Heading
from choreo.fit.field import DepthField
from choreo.fit.rigid import Rigid
from choreo.words.records import dataclass

Array = NDArray[np.float64]

# About a second; the alternatives may take the first part of it.
MOST_LOOKS = 7_000_000
ALTERNATIVE_LOOKS = 2_500_000
# Tiles along the long side of a site at first.
MOST_TILES = 64
# Tiles of headings are neither narrower nor wider than this (rad) at first.
NARROWEST_TILE_RAD = 0.01
WIDEST_TILE_RAD = 0.4


@dataclass(frozen=True, slots=True)
class Task:
    """What to search, all in the site's own and the footprint's own frame.

    headings: allowed angles of the pose, by sector. areas: where the reference point may come to lie (empty:
    anywhere); each pair of area and heading is a group. least_margin_m: poses with less don't count.
    tolerance_m: how close to the best pose any other must be known to be; alternative_m: the same within a
    group, None where groups don't matter. finest_m: boxes over which no point moves farther than that are
    not split. most_looks: looks at a point of a pose before the search ends by itself; alternative_looks: before
    groups no longer matter.
    """

    fit: Fit
    headings: tuple[Heading, ...]
    areas: tuple[DepthField, ...] = ()
    reference_m: tuple[float, float] = (0.0, 0.0)
    least_margin_m: float = 0.0
    tolerance_m: float = 0.1
    alternative_m: float | None = 1.0
    finest_m: float = 0.02
    most_looks: int = MOST_LOOKS
    alternative_looks: int = ALTERNATIVE_LOOKS

    @property
    def group_count(self) -> int:
        """How many groups there are."""
        return len(self.headings) * max(len(self.areas), 1)

    def heading(self, group: int) -> Heading:
        """Give the allowed angles of a group."""
        return self.headings[group % len(self.headings)]

    def room_m(self, boxes: Boxes) -> Array:
        """Give how deep the reference point may lie in the group's area over each box, in m, at most."""
        room = np.full(len(boxes), np.inf)
        if not self.areas:
            return room
        at_x, at_y = self._references(boxes)
        areas = boxes.group // len(self.headings)
        for index in np.unique(areas):
            here = areas == index
            room[here] = self.areas[index].depth_m(at_x[here], at_y[here])
        return np.asarray(room + boxes.reach_m(math.hypot(*self.reference_m)))

    def inside(self, poses: Boxes) -> Mask:
        """Tell at which middles of boxes the reference point lies in the group's area, shape (n,)."""
        here = np.full(len(poses), True)
        if self.areas:
            at_x, at_y = self._references(poses)
            areas = poses.group // len(self.headings)
            for index in np.unique(areas):
                of_area = areas == index
                here[of_area] = self.areas[index].holds(at_x[of_area], at_y[of_area])
        return here

    def allows(self, group: int, pose: Rigid) -> bool:
        """Tell whether a pose has a group's direction and area."""
        heading = self.heading(group)
        poses = points_as_boxes(np.array([[pose.x_m, pose.y_m, pose.angle_rad]]), group)
        within = heading.low_rad <= pose.angle_rad <= heading.high_rad
        return within and bool(self.inside(poses)[0])

    def _references(self, poses: Boxes) -> tuple[Array, Array]:
        """Where the reference point lies at the middles of boxes, in m."""
        x_m, y_m = self.reference_m
        cos, sin = np.cos(poses.angle_rad), np.sin(poses.angle_rad)
        return cos * x_m - sin * y_m + poses.x_m, sin * x_m + cos * y_m + poses.y_m

    def first_boxes(self) -> Boxes:
        """Tile all poses that could fit: the footprint's middle lies within the site's bounds then."""
        left, low, right, high = self.fit.site.geometry.bounds
        long, short = max(right - left, high - low), min(right - left, high - low)
        side = max(short, long / MOST_TILES)
        x_m, half_x = _tiled(left, right, side)
        y_m, half_y = _tiled(low, high, side)
        most_rad = min(max(side / self.fit.radius_m, NARROWEST_TILE_RAD), WIDEST_TILE_RAD)
        parts = []
        for group in range(self.group_count):
            heading = self.heading(group)
            angles, half_rad = _tiled(heading.low_rad, heading.high_rad, most_rad)
            x, y, angle = (one.ravel() for one in np.meshgrid(x_m, y_m, angles))
            ones = np.ones(x.size)
            groups = np.full(x.size, group, dtype=np.int32)
            parts.append(Boxes(x, y, angle, half_x * ones, half_y * ones, half_rad * ones, groups))
        return joined(parts)


def _tiled(low: float, high: float, most: float) -> tuple[Array, float]:
    """Middles of equal tiles of at most that width, and half their width."""
    count = max(math.ceil((high - low) / most), 1)
    width = (high - low) / count
    return np.asarray(low + width * (np.arange(count) + 0.5), dtype=np.float64), width / 2
