"""Convex bodies on their paths in many runs at once, and how far two of them are apart."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from choreo.geometry import Path, cusps_of, lap_of
from choreo.words.records import dataclass

Floats = NDArray[np.float64]


class Placed(NamedTuple):
    """Reference points and directions of one body, site frame, m: of shape (n,), directions (1,) on a straight path."""

    x_m: Floats
    y_m: Floats
    cos: Floats
    sin: Floats


class Seen(NamedTuple):
    """A body's frame as another's sees it: where its origin is, and how it is turned, each of shape (n,)."""

    ahead_m: Floats
    left_m: Floats
    cos: Floats
    sin: Floats

    def points_m(self, points_m: Floats) -> tuple[Floats, Floats]:
        """Give points of its frame, shape (k, 2), as the other's frame has them: ahead and left, shape (k, n)."""
        x, y = points_m[:, :1], points_m[:, 1:]
        return (
            self.ahead_m + x * self.cos - y * self.sin,
            self.left_m + x * self.sin + y * self.cos,
        )


def seen_from(a: Placed, b: Placed) -> Seen:
    """Give the frame of b as a has it; both n placements."""
    dx, dy = b.x_m - a.x_m, b.y_m - a.y_m
    return Seen(
        a.cos * dx + a.sin * dy,
        a.cos * dy - a.sin * dx,
        a.cos * b.cos + a.sin * b.sin,
        a.cos * b.sin - a.sin * b.cos,
    )


@dataclass(frozen=True, eq=False)
class Shape:
    """A convex body, corners in its frame counter-clockwise, shape (k, 2), on a path.

    normals, offsets_m: of its edges, (k, 2) and (k,). radius_m: of the farthest corner. bend_per_m: the most curvature
    of its path. straight: x, y, cosine and sine at station 0 of a path that is a straight line, shape (1,) each.
    """

    path: Path
    corners_m: Floats
    normals: Floats
    offsets_m: Floats
    radius_m: float
    bend_per_m: float
    straight: tuple[Floats, Floats, Floats, Floats] | None

    @property
    def ratio(self) -> float:
        """No point of it moves farther than this many times the way of its reference point."""
        return 1.0 + self.radius_m * self.bend_per_m

    @property
    def across_m(self) -> float:
        """How wide it is where it is narrowest, in m."""
        along = self.corners_m @ self.normals.T
        return float((along.max(axis=0) - along.min(axis=0)).min())

    @classmethod
    def of(cls, path: Path, corners_m: ArrayLike) -> Shape:
        """Make it of corners in the body frame, shape (k, 2), in m."""
        corners = np.asarray(corners_m, dtype=float)
        edges = np.roll(corners, -1, axis=0) - corners
        normals = np.stack((edges[:, 1], -edges[:, 0]), axis=1)
        normals /= np.hypot(edges[:, 0], edges[:, 1])[:, None]
        radius = float(np.hypot(corners[:, 0], corners[:, 1]).max())
        bend = max((abs(k) for _, _, *ends in path.stretches() for k in ends), default=0.0)
        offsets = (normals * corners).sum(axis=1)
        straight = None
        if bend == 0.0 and lap_of(path) is None and not cusps_of(path):
            at = path.pose(np.zeros(1))
            straight = at.x_m, at.y_m, np.cos(at.heading_rad), np.sin(at.heading_rad)
        return cls(path, corners, normals, offsets, radius, bend, straight)

    def place(self, station_m: Floats, left_m: Floats | float = 0.0) -> Placed:
        """Place it at stations, so far left of its path; both of shape (n,)."""
        if self.straight is not None:
            x_m, y_m, along, across = self.straight
            return Placed(
                x_m + along * station_m - across * left_m,
                y_m + across * station_m + along * left_m,
                along,
                across,
            )
        poses = self.path.pose(station_m)
        cos, sin = np.cos(poses.heading_rad), np.sin(poses.heading_rad)
        return Placed(poses.x_m - left_m * sin, poses.y_m + left_m * cos, cos, sin)

    def separation_m(self, here: Placed, other: Shape, there: Placed) -> Floats:
        """Give the widest gap to another along an edge's normal, shape (n,): never more than the distance."""
        ours = self._beyond(other, seen_from(here, there))
        return np.asarray(np.maximum(ours, other._beyond(self, seen_from(there, here))))

    def _beyond(self, other: Shape, seen: Seen) -> Floats:
        """How far another is beyond the edge of this one that it is farthest beyond, shape (n,)."""
        ahead, left = seen.points_m(other.corners_m)
        widest: Floats | None = None
        for (x, y), offset in zip(self.normals, self.offsets_m, strict=True):
            if y == 0.0:
                along = (x * ahead).min(axis=0)
            elif x == 0.0:
                along = (y * left).min(axis=0)
            else:
                along = (x * ahead + y * left).min(axis=0)
            along -= offset
            widest = along if widest is None else np.maximum(widest, along, out=widest)
        if widest is None:
            raise AssertionError("a body has edges")
        return widest
