"""Path and body specifications as the scenario layer tells them, made by hand. All figures invented."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np

from choreo.geometry import Path, Poses, body_corners, build_paths

BLANK_PIECE: dict[str, Any] = {
    "name": None,
    "at_m": None,
    "length_m": None,
    "radius_m": None,
    "angle_rad": None,
    "start_curvature_per_m": None,
    "end_curvature_per_m": None,
    "clothoid_angle_rad": None,
    "clothoid_length_m": None,
    "outer_curvature_per_m": 0.0,
    "offset_m": None,
    "path_length_m": None,
    "transition_m": None,
    "backwards": False,
}


def piece(kind: str, **numbers: Any) -> SimpleNamespace:
    """One piece of a path."""
    return SimpleNamespace(**(BLANK_PIECE | {"kind": kind} | numbers))


def line(length_m: float, **more: Any) -> SimpleNamespace:
    """A straight piece."""
    return piece("line", length_m=length_m, **more)


def chain(
    *pieces: SimpleNamespace, start: tuple[float, float] = (0.0, 0.0), heading_rad: float = 0.0
) -> SimpleNamespace:
    """A path of pieces."""
    return SimpleNamespace(
        start_m=start, heading_rad=heading_rad, pieces=pieces, beside=None, points_m=()
    )


def beside(
    base: str,
    offset_m: float,
    *,
    reverse: bool = False,
    start: float | None = None,
    end: float | None = None,
) -> SimpleNamespace:
    """A path beside another."""
    return SimpleNamespace(
        beside=base,
        offset_m=offset_m,
        reversed=reverse,
        from_m=start,
        to_m=end,
        pieces=(),
        points_m=(),
    )


def surveyed(points: Any) -> SimpleNamespace:
    """A path through points."""
    return SimpleNamespace(beside=None, pieces=(), points_m=tuple(map(tuple, points)))


def built(spec: SimpleNamespace) -> Path:
    """A single path."""
    return build_paths({"path": spec})["path"]


def straight(x_m: float, y_m: float, heading_deg: float, length_m: float) -> Path:
    """A straight path."""
    return built(chain(line(length_m), start=(x_m, y_m), heading_rad=np.radians(heading_deg)))


def body(length_m: float, width_m: float, front_m: float | None = None) -> SimpleNamespace:
    """A rectangle round its reference point."""
    front = length_m / 2 if front_m is None else front_m
    rear, half = front - length_m, width_m / 2
    corners = ((rear, -half), (front, -half), (front, half), (rear, half))
    return SimpleNamespace(
        corners_m=corners, length_m=length_m, width_m=width_m, front_m=front, rear_m=-rear
    )


CAR = body(4.3, 1.8, 3.4)
TARGET = body(4.0, 1.7, 3.0)
WALKER = body(0.6, 0.5)


def placed(path: Path, thing: SimpleNamespace, station_m: float) -> np.ndarray:
    """Corners of a body at one station, shape (k, 2)."""
    return np.asarray(body_corners(thing.corners_m, path.pose(np.array([station_m])))[0])


def in_frame(of: Poses, x_m: float, y_m: float) -> tuple[float, float]:
    """A point in the body frame of a single pose."""
    cos, sin = np.cos(of.heading_rad[0]), np.sin(of.heading_rad[0])
    dx, dy = x_m - of.x_m[0], y_m - of.y_m[0]
    return float(cos * dx + sin * dy), float(cos * dy - sin * dx)


def impact(
    path_a: Path, at_a: float, path_b: Path, at_b: float, other: SimpleNamespace, point: str
) -> tuple[float, float]:
    """The meant point of b in a's body frame: (x, y)."""
    ahead = {"reference": 0.0, "front centre": other.front_m, "rear centre": -other.rear_m}[point]
    b = path_b.pose(np.array([at_b]))
    x = float(b.x_m[0] + ahead * np.cos(b.heading_rad[0]))
    y = float(b.y_m[0] + ahead * np.sin(b.heading_rad[0]))
    return in_frame(path_a.pose(np.array([at_a])), x, y)
