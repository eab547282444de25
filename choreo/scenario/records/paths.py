"""Paths as records: pieces, beside another path, through surveyed points, laid out as a course."""

from __future__ import annotations

import math
from dataclasses import field

from choreo.courses import Course
from choreo.scenario.records.plain_data import LATER
from choreo.scenario.records.span import Span
from choreo.words.kinds import PieceKind
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece of a path; which numbers are set depends on its kind.

    speed: between which speeds a drive passes it, at most one of them where both ends are the same; surface: by name.
    backwards: it is driven with the rear ahead. bank_rad: of a curve, its inside lies lower by it;
    even_bank: all along it, instead of growing with its curvature.
    """

    kind: PieceKind
    name: str | None = None
    at_m: tuple[float, float] | None = None
    length_m: float | None = None
    radius_m: float | None = None
    angle_rad: float | None = None
    start_curvature_per_m: float | None = None
    end_curvature_per_m: float | None = None
    clothoid_angle_rad: float | None = None
    clothoid_length_m: float | None = None
    outer_curvature_per_m: float = 0.0
    offset_m: float | None = None
    path_length_m: float | None = None
    transition_m: float | None = None
    speed: Span | None = field(default=None, metadata=LATER)
    surface: str | None = field(default=None, metadata=LATER)
    backwards: bool = field(default=False, metadata=LATER)
    bank_rad: float = field(default=0.0, metadata=LATER)
    even_bank: bool = field(default=False, metadata=LATER)


@dataclass(frozen=True, slots=True)
class PathSpec:
    """A path as pieces, beside another path, or through surveyed points.

    laps: those of a closed one through points, by name. course: what it was laid out from. sections: stretches by name
    (first and last station in m) of more than one piece.
    """

    start_m: tuple[float, float] | None = None
    heading_rad: float = 0.0
    pieces: tuple[Piece, ...] = ()
    beside: str | None = None
    offset_m: float = 0.0
    reversed: bool = False
    from_m: float | None = None
    to_m: float | None = None
    points_m: tuple[tuple[float, float], ...] = ()
    closed: bool = field(default=False, metadata=LATER)
    laps: tuple[str, ...] = field(default=(), metadata=LATER)
    course: Course | None = field(default=None, metadata=LATER)
    sections: tuple[tuple[str, float, float], ...] = field(default=(), metadata=LATER)

    def on_site(self, x_m: float, y_m: float) -> tuple[float, float]:
        """Give a place of its course, x along its heading at its beginning and y to the left, in the site frame (m)."""
        begin_x, begin_y = self.start_m or (0.0, 0.0)
        cos, sin = math.cos(self.heading_rad), math.sin(self.heading_rad)
        return begin_x + cos * x_m - sin * y_m, begin_y + sin * x_m + cos * y_m
