"""Bodies: convex polygons that follow a path."""

from __future__ import annotations

from typing import Protocol, assert_never

import numpy as np
from numpy.typing import ArrayLike

from choreo.geometry.poses import Array, Poses
from choreo.words.kinds import ContactPointName


class Outline(Protocol):
    """A convex polygon round the reference point, which is on its path: corners in its frame, and where its ends are.

    corners_m: x forward, y left, counter-clockwise. front_m, rear_m: from the reference point, both from zero up.
    """

    @property
    def corners_m(self) -> tuple[tuple[float, float], ...]: ...

    @property
    def front_m(self) -> float: ...

    @property
    def rear_m(self) -> float: ...


def body_corners(corners_m: ArrayLike, poses: Poses) -> Array:
    """Place a body at poses.

    corners_m: body frame (x forward, y left), shape (k, 2), in m. poses: n of them, site frame.
    Returns corners in the site frame in m, shape (n, k, 2), in the given order.
    """
    corners = np.asarray(corners_m, dtype=float)
    cos, sin = np.cos(poses.heading_rad)[:, None], np.sin(poses.heading_rad)[:, None]
    x = poses.x_m[:, None] + cos * corners[:, 0] - sin * corners[:, 1]
    y = poses.y_m[:, None] + sin * corners[:, 0] + cos * corners[:, 1]
    return np.stack((x, y), axis=2)


def point_ahead_m(body: Outline, point: ContactPointName) -> float:
    """Give how far a named point of a body lies ahead of its reference point, in m (on its axis)."""
    match point:
        case "reference":
            return 0.0
        case "front centre":
            return body.front_m
        case "rear centre":
            return -body.rear_m
    assert_never(point)
