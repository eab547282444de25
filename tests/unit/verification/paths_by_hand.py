"""Two paths in closed form and a body, so that the verifier's parts are tested without the
geometry layer.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from types import SimpleNamespace

import numpy as np


@dataclass(frozen=True)
class Straight:
    """A straight path from (x_m, y_m)."""

    x_m: float = 0.0
    y_m: float = 0.0
    heading_rad: float = 0.0
    length_m: float = 400.0
    marks: dict[str, tuple[float, float]] = field(default_factory=dict, hash=False)

    def pose(self, s_m: np.ndarray) -> SimpleNamespace:
        s = np.asarray(s_m, dtype=float)
        return SimpleNamespace(
            x_m=self.x_m + s * np.cos(self.heading_rad),
            y_m=self.y_m + s * np.sin(self.heading_rad),
            heading_rad=np.full_like(s, self.heading_rad),
            curvature_per_m=np.zeros_like(s),
        )

    def pose_at(self, s_m: float) -> tuple[float, float, float, float]:
        at = self.pose(np.array([s_m]))
        return at.x_m.item(), at.y_m.item(), at.heading_rad.item(), at.curvature_per_m.item()

    def stretches(self) -> tuple[tuple[float, float, float, float], ...]:
        return ((0.0, self.length_m, 0.0, 0.0),)


@dataclass(frozen=True)
class Circle:
    """A left-hand circle of radius_m round (0, radius_m), from the origin eastwards."""

    radius_m: float
    length_m: float

    def pose(self, s_m: np.ndarray) -> SimpleNamespace:
        angle = np.asarray(s_m, dtype=float) / self.radius_m
        return SimpleNamespace(
            x_m=self.radius_m * np.sin(angle),
            y_m=self.radius_m * (1 - np.cos(angle)),
            heading_rad=angle,
            curvature_per_m=np.full_like(angle, 1 / self.radius_m),
        )

    def pose_at(self, s_m: float) -> tuple[float, float, float, float]:
        at = self.pose(np.array([s_m]))
        return at.x_m.item(), at.y_m.item(), at.heading_rad.item(), at.curvature_per_m.item()

    def stretches(self) -> tuple[tuple[float, float, float, float], ...]:
        return ((0.0, self.length_m, 1 / self.radius_m, 1 / self.radius_m),)


def rectangle(length_m: float, width_m: float, front_m: float | None = None) -> np.ndarray:
    """Corners of a rectangle, counter-clockwise from the rear right, shape (4, 2)."""
    front = length_m / 2 if front_m is None else front_m
    rear, half = front - length_m, width_m / 2
    return np.array([[rear, -half], [front, -half], [front, half], [rear, half]])


def body(length_m: float, width_m: float, front_m: float | None = None) -> SimpleNamespace:
    """A rectangle as the scenario tells it."""
    front = length_m / 2 if front_m is None else front_m
    return SimpleNamespace(
        corners_m=tuple(map(tuple, rectangle(length_m, width_m, front_m))),
        length_m=length_m,
        width_m=width_m,
        front_m=front,
        rear_m=length_m - front,
    )
