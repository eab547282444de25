"""A scenario turned and shifted as a whole, onto the same or another site."""

from __future__ import annotations

import math
from dataclasses import replace

from choreo.scenario.records.edits import with_each_mover, with_each_path
from choreo.scenario.records.scenario import Mover, PathSpec, Scenario


def moved_to(scenario: Scenario, x_m: float, y_m: float, angle_rad: float) -> Scenario:
    """Give a scenario with everything that it says about places turned about its origin, then shifted by (x, y)."""
    cos, sin = math.cos(angle_rad), math.sin(angle_rad)

    def point(at: tuple[float, float]) -> tuple[float, float]:
        return (cos * at[0] - sin * at[1] + x_m, sin * at[0] + cos * at[1] + y_m)

    def path(one: PathSpec) -> PathSpec:
        return replace(
            one,
            start_m=None if one.start_m is None else point(one.start_m),
            heading_rad=one.heading_rad + angle_rad,
            pieces=tuple(
                piece if piece.at_m is None else replace(piece, at_m=point(piece.at_m))
                for piece in one.pieces
            ),
            points_m=tuple(point(at) for at in one.points_m),
        )

    def mover(_name: str, one: Mover) -> Mover:
        if one.stand is None:
            return one
        return replace(one, stand=(*point(one.stand[:2]), one.stand[2] + angle_rad))

    return with_each_mover(with_each_path(scenario, path), mover)
