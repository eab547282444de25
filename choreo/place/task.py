"""What a search is given: the fit, and the groups in each of which a best pose is wanted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from choreo.place.directions import Heading
from choreo.place.field import Region
from choreo.place.fit import Boxes, Fit
from choreo.place.rigid import Rigid

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Task:
    """What to search, all in the site's own and the footprint's own frame.

    headings: allowed angles of the pose, by sector. areas: where the reference point may come to lie (empty:
    anywhere); each pair of area and heading is a group. least_margin_m: poses with less don't count.
    tolerance_m: how close to the best pose any other must be known to be; alternative_m: the same within a
    group. finest_m: boxes over which no point moves farther than that are not split.
    """

    fit: Fit
    headings: tuple[Heading, ...]
    areas: tuple[Region, ...] = ()
    reference_m: tuple[float, float] = (0.0, 0.0)
    least_margin_m: float = 0.0
    tolerance_m: float = 0.1
    alternative_m: float = 1.0
    finest_m: float = 0.02

    @property
    def group_count(self) -> int:
        """How many groups there are."""
        return len(self.headings) * max(len(self.areas), 1)

    def heading(self, group: int) -> Heading:
        """Give the allowed angles of a group."""
        return self.headings[group % len(self.headings)]

    def area(self, group: int) -> int:
        """Give the index of a group's area."""
        return group // len(self.headings)

    def room_m(self, boxes: Boxes) -> Array:
        """Give how deep the reference point may lie in the group's area over each box, in m, at most."""
        room = np.full(len(boxes), np.inf)
        if not self.areas:
            return room
        x_m, y_m = self.reference_m
        cos, sin = np.cos(boxes.angle_rad), np.sin(boxes.angle_rad)
        at_x, at_y = cos * x_m - sin * y_m + boxes.x_m, sin * x_m + cos * y_m + boxes.y_m
        areas = boxes.group // len(self.headings)
        for index, area in enumerate(self.areas):
            here = areas == index
            room[here] = area.depth_m(at_x[here], at_y[here])
        return np.asarray(room + boxes.reach_m(float(np.hypot(x_m, y_m))))

    def allows(self, group: int, pose: Rigid) -> bool:
        """Tell whether a pose has a group's direction and area."""
        heading = self.heading(group)
        if not heading.low_rad <= pose.angle_rad <= heading.high_rad:
            return False
        if not self.areas:
            return True
        x_m, y_m = pose.point(*self.reference_m)
        depth = self.areas[self.area(group)].depth_m(np.array([x_m]), np.array([y_m]))
        return bool(depth[0] >= 0)


def poses_as_boxes(poses: Array, group: int) -> Boxes:
    """Give poses (x m, y m, angle rad), shape (n, 3), as boxes without size."""
    none = np.zeros(len(poses))
    return Boxes(
        poses[:, 0],
        poses[:, 1],
        poses[:, 2],
        none,
        none,
        np.full(len(poses), group, dtype=np.int32),
    )
