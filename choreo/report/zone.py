"""The keep-out zone in numbers, the same wherever it is given: rounded outwards, a rounded zone never is too small."""

from __future__ import annotations

import math

from choreo.plans.room_record import KeepOut
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Extent:
    """The smallest box round a zone, in site m, rounded outwards to 0.1 m."""

    x0_m: float
    x1_m: float
    y0_m: float
    y1_m: float


def extent_of(zone: KeepOut) -> Extent:
    """Give the box round a zone's polygons."""
    xs = [x for rings in zone.polygons for x, _ in rings[0]]
    ys = [y for rings in zone.polygons for _, y in rings[0]]
    return Extent(
        math.floor(min(xs) * 10) / 10,
        math.ceil(max(xs) * 10) / 10,
        math.floor(min(ys) * 10) / 10,
        math.ceil(max(ys) * 10) / 10,
    )


def extent_words(zone: KeepOut) -> str:
    """Say from where to where a zone reaches, in site m."""
    box = extent_of(zone)
    return f"x {box.x0_m:.1f} to {box.x1_m:.1f} m, y {box.y0_m:.1f} to {box.y1_m:.1f} m"


def area_words(area_m2: float) -> str:
    """Give an area in words, rounded up to 1 m2."""
    return f"{math.ceil(area_m2)} m2"
