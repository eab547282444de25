"""Of poses with all but the same margin, the tidier one: parallel to an edge, and in the middle of its way."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from choreo.fit.rigid import Rigid

# What tidying may cost of the margin, in m.
COST_M = 0.002
# Headings this near to an edge's are made parallel to it.
NEARLY_PARALLEL_RAD = math.radians(0.2)
# A slide is halved so many times: to a 500th.
SLIDE_ROUNDS = 9
Margin = Callable[[Rigid], float]


def settled(
    pose: Rigid, footprint: BaseGeometry, drivable: BaseGeometry, margin_m: Margin
) -> Rigid:
    """Give a pose whose margin is at most COST_M less; margin_m: of a pose, -inf where it is not allowed."""
    placed = pose.geometry(footprint)
    edge_rad = nearest_edge_rad(placed, drivable)
    if edge_rad is None:
        return pose
    floor_m = margin_m(pose) - COST_M
    pose = _parallel(pose, placed, edge_rad, margin_m, floor_m)
    return _in_the_middle(pose, edge_rad, drivable, margin_m, floor_m)


def nearest_edge_rad(placed: BaseGeometry, drivable: BaseGeometry) -> float | None:
    """Give the heading of the edge of the region that a placed footprint is nearest to."""
    line = shapely.get_coordinates(shapely.shortest_line(drivable.boundary, placed))
    across = line[1] - line[0]
    if not np.hypot(*across) > 0:
        return None
    return math.atan2(across[1], across[0]) + math.pi / 2


def _parallel(
    pose: Rigid, placed: BaseGeometry, edge_rad: float, margin_m: Margin, floor_m: float
) -> Rigid:
    """Turn the footprint's least rectangle parallel to the edge, where that costs nothing."""
    corners = shapely.get_coordinates(shapely.oriented_envelope(placed))
    side = corners[1] - corners[0]
    away = math.remainder(edge_rad - math.atan2(side[1], side[0]), math.pi / 2)
    if abs(away) > NEARLY_PARALLEL_RAD:
        return pose
    middle = corners[:4].mean(axis=0)
    turn = Rigid(0.0, 0.0, away)
    x_m, y_m = turn.point(float(middle[0]), float(middle[1]))
    turned = Rigid(float(middle[0]) - x_m, float(middle[1]) - y_m, away).after(pose)
    return turned if margin_m(turned) >= floor_m else pose


def _in_the_middle(
    pose: Rigid, edge_rad: float, drivable: BaseGeometry, margin_m: Margin, floor_m: float
) -> Rigid:
    """Slide along the edge to the middle of the way on which the margin stays."""
    left, low, right, high = drivable.bounds
    most_m = math.hypot(right - left, high - low)
    ways = [_slide_m(pose, edge_rad + turn, most_m, margin_m, floor_m) for turn in (0.0, math.pi)]
    slid = _slid(pose, edge_rad, (ways[0] - ways[1]) / 2)
    return slid if margin_m(slid) >= floor_m else pose


def _slide_m(
    pose: Rigid, heading_rad: float, most_m: float, margin_m: Margin, floor_m: float
) -> float:
    """How far a pose can slide one way, found by halving."""
    low, high = 0.0, most_m
    for _ in range(SLIDE_ROUNDS):
        middle = (low + high) / 2
        if margin_m(_slid(pose, heading_rad, middle)) >= floor_m:
            low = middle
        else:
            high = middle
    return low


def _slid(pose: Rigid, heading_rad: float, way_m: float) -> Rigid:
    return Rigid(
        pose.x_m + way_m * math.cos(heading_rad),
        pose.y_m + way_m * math.sin(heading_rad),
        pose.angle_rad,
    )
