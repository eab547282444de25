"""Rigid motions of the plane: a turn about the origin, then a shift."""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from choreo.words.records import dataclass

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Rigid:
    """p goes to R(angle) p + (x, y)."""

    x_m: float
    y_m: float
    angle_rad: float

    def apply(self, points_m: Array) -> Array:
        """Give where points of shape (n, 2), in m, go; same shape."""
        cos, sin = math.cos(self.angle_rad), math.sin(self.angle_rad)
        x_m, y_m = points_m[:, 0], points_m[:, 1]
        return np.stack((cos * x_m - sin * y_m + self.x_m, sin * x_m + cos * y_m + self.y_m), 1)

    def point(self, x_m: float, y_m: float) -> tuple[float, float]:
        """Give where one point goes, in m."""
        moved = self.apply(np.array([[x_m, y_m]]))[0]
        return float(moved[0]), float(moved[1])

    def geometry(self, geometry: BaseGeometry) -> BaseGeometry:
        """Give a geometry moved."""
        return shapely.transform(geometry, self.apply)

    def after(self, first: Rigid) -> Rigid:
        """Give the motion that does `first`, then this one."""
        x_m, y_m = self.point(first.x_m, first.y_m)
        return Rigid(x_m, y_m, self.angle_rad + first.angle_rad)

    def inverse(self) -> Rigid:
        """Give the motion that undoes this one."""
        cos, sin = math.cos(self.angle_rad), math.sin(self.angle_rad)
        return Rigid(
            -cos * self.x_m - sin * self.y_m, sin * self.x_m - cos * self.y_m, -self.angle_rad
        )


def own_frame(geometry: BaseGeometry) -> Rigid:
    """Give the motion from a geometry's own frame to the one that it is written in.

    Its own frame has the origin in the middle of the least rectangle round it and x along the long side:
    rasters are small there, and levers short.
    """
    rectangle = shapely.oriented_envelope(geometry)
    corners = shapely.get_coordinates(rectangle)
    if len(corners) < 4:
        middle = shapely.get_coordinates(geometry.envelope).mean(axis=0)
        return Rigid(float(middle[0]), float(middle[1]), 0.0)
    sides = corners[1:3] - corners[0:2]
    longest = sides[int(np.argmax(np.hypot(sides[:, 0], sides[:, 1])))]
    middle = (corners[0] + corners[2]) / 2
    return Rigid(float(middle[0]), float(middle[1]), math.atan2(longest[1], longest[0]))
