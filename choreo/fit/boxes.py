"""Boxes of poses: how far they reach, how they are split."""

from __future__ import annotations

import math
from dataclasses import fields

import numpy as np
from numpy.typing import NDArray

from choreo.words.records import dataclass

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Boxes:
    """Middles in m and rad, half widths in m and rad, all of shape (n,); group: to which each belongs."""

    x_m: Array
    y_m: Array
    angle_rad: Array
    half_x_m: Array
    half_y_m: Array
    half_rad: Array
    group: NDArray[np.int32]

    def __len__(self) -> int:
        return len(self.x_m)

    def only(self, which: slice | Mask | NDArray[np.int64]) -> Boxes:
        """Give some of them."""
        return Boxes(*(getattr(self, field.name)[which] for field in fields(self)))

    @property
    def half_m(self) -> Array:
        """Half diagonals of their places, in m."""
        return np.hypot(self.half_x_m, self.half_y_m)

    def turn_m(self, radius_m: float) -> Array:
        """Give how far a point within that radius of the middle moves by the turn alone, at most, in m."""
        return radius_m * chord(self.half_rad)

    def reach_m(self, radius_m: float) -> Array:
        """Give how far a point within that radius moves between the middle and any pose, at most, in m."""
        return self.half_m + self.turn_m(radius_m)

    def halves(self, along: NDArray[np.int64]) -> Boxes:
        """Split each in two along x (0), y (1) or angle (2); along: of shape (n,)."""
        cut = [np.where(along == axis, 0.5, 0.0) for axis in range(3)]
        half = (self.half_x_m, self.half_y_m, self.half_rad)
        step = [one * share for one, share in zip(half, cut, strict=True)]
        left = [one - part for one, part in zip(half, step, strict=True)]
        return joined(
            [
                Boxes(
                    self.x_m + side * step[0],
                    self.y_m + side * step[1],
                    self.angle_rad + side * step[2],
                    left[0],
                    left[1],
                    left[2],
                    self.group,
                )
                for side in (-1, 1)
            ]
        )


def chord(half_rad: Array) -> Array:
    """Give how far a point at distance 1 moves when turned by that much or less."""
    return np.asarray(2 * np.sin(np.minimum(half_rad, math.pi) / 2))


def joined(parts: list[Boxes]) -> Boxes:
    """Put boxes together."""
    return Boxes(
        *(np.concatenate([getattr(one, field.name) for one in parts]) for field in fields(Boxes))
    )


def points_as_boxes(poses: Array, group: int) -> Boxes:
    """Give poses (x m, y m, angle rad), shape (n, 3), as boxes without size."""
    none = np.zeros(len(poses))
    groups = np.full(len(poses), group, dtype=np.int32)
    return Boxes(poses[:, 0], poses[:, 1], poses[:, 2], none, none, none, groups)
