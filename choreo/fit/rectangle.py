"""The rectangle of least area round a footprint, with a margin on all sides."""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle: sides with length_m >= width_m, heading of the long side in [0, pi), middle in m."""

    length_m: float
    width_m: float
    angle_rad: float
    middle_m: tuple[float, float]

    def corners(self) -> tuple[tuple[float, float], ...]:
        """Give its corners in m, counter-clockwise."""
        cos, sin = math.cos(self.angle_rad), math.sin(self.angle_rad)
        x, y = self.middle_m
        halves = [
            (i * self.length_m / 2, j * self.width_m / 2)
            for i, j in ((-1, -1), (1, -1), (1, 1), (-1, 1))
        ]
        return tuple((x + cos * a - sin * b, y + sin * a + cos * b) for a, b in halves)


def least_rectangle(footprint: BaseGeometry, margin_m: float = 0.0) -> Box:
    """Give the rectangle of least area that is nowhere nearer than margin_m to the footprint.

    One of its sides is parallel to an edge of the footprint's convex hull: between two such directions both
    sides are sums of a cosine and a constant, hence log-concave, and so is their product, which is least at
    an end.
    """
    hull = shapely.get_coordinates(shapely.convex_hull(footprint))
    edges = np.diff(hull, axis=0)
    angles = np.unique(np.round(np.arctan2(edges[:, 1], edges[:, 0]) % (math.pi / 2), 12))
    cos, sin = np.cos(angles)[:, None], np.sin(angles)[:, None]
    along = cos * hull[:, 0] + sin * hull[:, 1]
    across = cos * hull[:, 1] - sin * hull[:, 0]
    lengths = np.ptp(along, axis=1) + 2 * margin_m
    widths = np.ptp(across, axis=1) + 2 * margin_m
    at = int(np.argmin(lengths * widths))
    u, v = (float(one[at].max() + one[at].min()) / 2 for one in (along, across))
    c, s = float(cos[at, 0]), float(sin[at, 0])
    turned = bool(widths[at] > lengths[at])
    angle = (float(angles[at]) + (math.pi / 2 if turned else 0.0)) % math.pi
    sides = sorted((float(lengths[at]), float(widths[at])))
    return Box(sides[1], sides[0], angle, (c * u - s * v, s * u + c * v))
