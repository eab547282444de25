"""Pieces of a path as written -> stretches of linear curvature."""

from __future__ import annotations

import math
from typing import Any, assert_never

from choreo.geometry.shift import ShiftImpossible, solve_shift
from choreo.geometry.tolerances import NOTHING
from choreo.words.kinds import PieceKind

Stretches = list[tuple[float, float, float]]


class PieceFault(Exception):
    """A piece that can't be built; carries the code of the finding, its values, the key at fault."""

    def __init__(self, code: str, key: str, **values: str | float) -> None:
        super().__init__(code)
        self.code = code
        self.key = key
        self.values = values


def stretches_of(piece: Any) -> Stretches:
    """Give the stretches (length in m, start and end curvature in 1/m) of one piece of a path.

    piece: any object with the fields of a scenario's Piece. Raises PieceFault.
    """
    kind: PieceKind = piece.kind
    match kind:
        case "line":
            return _line(piece)
        case "arc":
            return _arc(piece)
        case "clothoid":
            return _clothoid(piece)
        case "bend":
            return _bend(piece)
        case "shift":
            return _shift(piece)
    assert_never(kind)


def _positive(value: float, key: str, what: str) -> float:
    if not value > NOTHING:
        raise PieceFault("geometry.piece-empty", key, what=what, value=f"{value:g}")
    return float(value)


def _line(piece: Any) -> Stretches:
    return [(_positive(piece.length_m, "line", "length of this line"), 0.0, 0.0)]


def _arc(piece: Any) -> Stretches:
    radius = _positive(piece.radius_m, "arc", "radius of this arc")
    _positive(abs(piece.angle_rad), "arc", "angle of this arc")
    curvature = math.copysign(1.0 / radius, piece.angle_rad)
    return [(radius * abs(piece.angle_rad), curvature, curvature)]


def _clothoid(piece: Any) -> Stretches:
    length = _positive(piece.length_m, "clothoid", "length of this clothoid")
    return [(length, float(piece.start_curvature_per_m), float(piece.end_curvature_per_m))]


def _bend(piece: Any) -> Stretches:
    """Clothoid, arc, mirrored clothoid; angle of a clothoid = length * mean curvature."""
    radius = _positive(piece.radius_m, "bend", "radius of this bend")
    total = _positive(abs(piece.angle_rad), "bend", "angle of this bend")
    outer, inner = float(piece.outer_curvature_per_m), 1.0 / radius
    if outer >= inner:
        raise PieceFault(
            "geometry.bend-outer-tighter",
            "bend",
            radius=f"{radius:g} m",
            outer=f"{1.0 / outer:g} m",
        )
    if piece.clothoid_angle_rad is not None:
        turned = abs(piece.clothoid_angle_rad)
        length = 2.0 * turned / (outer + inner)
    else:
        length = float(piece.clothoid_length_m)
        turned = length * (outer + inner) / 2.0
    if length < 0.0:
        raise PieceFault(
            "geometry.piece-empty", "bend", what="length of its clothoids", value=f"{length:g}"
        )
    arc = total - 2.0 * turned
    if arc < -NOTHING:
        raise PieceFault(
            "geometry.bend-too-short",
            "bend",
            angle=_degrees(total),
            clothoids=_degrees(2.0 * turned),
            clothoid=_degrees(turned),
        )
    side = math.copysign(1.0, piece.angle_rad)
    outer, inner = side * outer, side * inner
    parts = [
        (length, outer, inner),
        (radius * max(arc, 0.0), inner, inner),
        (length, inner, outer),
    ]
    return [part for part in parts if part[0] > 0.0]


def _shift(piece: Any) -> Stretches:
    offset = float(piece.offset_m)
    length, along_path = piece.length_m, piece.path_length_m
    _positive(abs(offset), "shift", "offset of this shift")
    _positive(along_path if length is None else length, "shift", "length of this shift")
    if piece.radius_m is not None:
        _positive(piece.radius_m, "shift", "radius of this shift")
    elif piece.transition_m is not None and piece.transition_m < 0.0:
        value = f"{piece.transition_m:g}"
        raise PieceFault(
            "geometry.piece-empty", "shift", what="transition of this shift", value=value
        )
    try:
        shape = solve_shift(
            abs(offset),
            length_m=length,
            path_length_m=along_path,
            radius_m=piece.radius_m,
            transition_m=piece.transition_m,
        )
    except ShiftImpossible as impossible:
        values = {
            key.removesuffix("_m"): f"{value:.3f} m" for key, value in impossible.values.items()
        }
        raise PieceFault(impossible.code, "shift", **values) from None
    return shape.stretches(math.copysign(1.0, offset))


def _degrees(angle_rad: float) -> str:
    return f"{math.degrees(angle_rad):.3f} deg"
