"""A course: gates, cones and lanes in its own frame, and the pieces of the path that leads through their middles.

The frame is that of the path: x along its heading at its beginning, y to the left, in m.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import field, replace
from types import MappingProxyType
from typing import Literal

from choreo.words.kinds import LineKind, PieceKind
from choreo.words.records import dataclass

# A driven line is looked for so far before a course and behind it (m): it needs so much of run-up and run-out.
LINE_APPROACH_M = 40.0
Point = tuple[float, float]
# Of a record's field that is only told: it changes no plan, so it is no part of what a scenario means.
TOLD: Mapping[str, bool] = MappingProxyType({"told": True})
# Of a field that an earlier version had not: as of a scenario's records.
LATER: Mapping[str, bool] = MappingProxyType({"later": True})
Side = Literal["left", "right"]


@dataclass(frozen=True, slots=True)
class Cone:
    """A cone, at the inner edge of its base: name for stake-out, place, on which side it is passed by."""

    name: str
    x_m: float
    y_m: float
    side: Side


@dataclass(frozen=True, slots=True)
class Lane:
    """A straight lane along x, as wide as the space between its cones."""

    name: str
    from_m: float
    to_m: float
    right_m: float
    left_m: float

    @property
    def width_m(self) -> float:
        """Its width in m."""
        return self.left_m - self.right_m

    @property
    def middle_m(self) -> float:
        """Where its middle line is, y in m."""
        return (self.left_m + self.right_m) / 2.0


@dataclass(frozen=True, slots=True)
class Piece:
    """One piece of the path through a course; the fields of a path's piece that its kind needs, in m, rad, 1/m."""

    kind: PieceKind
    name: str | None = None
    length_m: float | None = None
    radius_m: float | None = None
    angle_rad: float | None = None
    start_curvature_per_m: float | None = None
    end_curvature_per_m: float | None = None
    clothoid_angle_rad: float | None = None
    clothoid_length_m: float | None = None
    outer_curvature_per_m: float = 0.0
    offset_m: float | None = None


@dataclass(frozen=True, slots=True)
class Driven:
    """What was found of a line: its largest curvature, and one that no line falls short of (1/m; None: not known).

    binds: cones and lanes that hold it. keeps: whether it keeps its margin.
    """

    most_per_m: float
    least_per_m: float | None
    binds: tuple[str, ...]
    keeps: bool


@dataclass(frozen=True, slots=True)
class Steered:
    """How far a car leaves the straight of a course on which it is steered by angle, to either side.

    begin_m, end_m: between which stations. speed_mps: as laid out. asked_mps2: the lateral acceleration that the course
    asks for at least; counted_mps2: of which the room is counted at least. of_limit: what the mover's limit allows
    counts where that is more. way_s2: the way aside in m, across_s: the speed across in m/s, both for 1 m/s2.
    in_quadrature: the one is largest where the other is nothing. lane_m: the width of its lane.
    """

    begin_m: float
    end_m: float
    speed_mps: float
    asked_mps2: float
    counted_mps2: float
    way_s2: float
    across_s: float
    of_limit: bool = False
    in_quadrature: bool = False
    lane_m: float | None = None

    def counted(self, limit_mps2: float) -> float:
        """Give the lateral acceleration in m/s2 of which the room is counted, of a mover with that limit."""
        more = limit_mps2 if self.of_limit and math.isfinite(limit_mps2) else 0.0
        return max(self.counted_mps2, more)

    def reach_m(self, lateral_mps2: float, arm_m: float) -> float:
        """Give how far aside in m a point comes that is up to arm_m before or behind: the body is turned, too."""
        way = self.way_s2 * lateral_mps2
        turned = arm_m * self.across_s * lateral_mps2 / self.speed_mps
        return math.hypot(way, turned) if self.in_quadrature else way + turned


@dataclass(frozen=True, slots=True)
class Course:
    """What stands on the ground of a course, and how its line is asked for.

    bounds: edges of lanes, each a chain of points. vehicle_width_m: the width that it is laid out for; None where no
    width counts. margin_m: what a driven line keeps of cones and edges. driven: once it is found. steered: on
    which straight it is steered by angle. sizes: as its author says them, for figures that are told.
    """

    name: str
    cones: tuple[Cone, ...] = ()
    bounds: tuple[tuple[Point, ...], ...] = ()
    lanes: tuple[Lane, ...] = ()
    line: LineKind = "centres"
    margin_m: float = 0.0
    vehicle_width_m: float | None = None
    driven: Driven | None = None
    steered: Steered | None = field(default=None, metadata=LATER)
    sizes: Sizes | None = field(default=None, metadata=TOLD)

    @property
    def leads_right(self) -> bool:
        """Whether its first change of lane, or its first cone alone, leads to the right."""
        for lane in self.lanes:
            if lane.middle_m != self.lanes[0].middle_m:
                return lane.middle_m < self.lanes[0].middle_m
        return not self.lanes and bool(self.cones) and self.cones[0].side == "left"

    def mirrored(self) -> Course:
        """Give the course with left and right changed; what stands there keeps its name."""
        other: Mapping[Side, Side] = {"left": "right", "right": "left"}
        return replace(
            self,
            cones=tuple(replace(one, y_m=-one.y_m, side=other[one.side]) for one in self.cones),
            bounds=tuple(tuple((x, -y) for x, y in chain) for chain in self.bounds),
            lanes=tuple(
                replace(one, right_m=-one.left_m, left_m=-one.right_m) for one in self.lanes
            ),
        )

    def moved(self, by_m: float) -> Course:
        """Give the course so far on along x, behind a longer run-up."""
        steered = self.steered
        if steered is not None:
            begin, end = steered.begin_m + by_m, steered.end_m + by_m
            steered = replace(steered, begin_m=begin, end_m=end)
        return replace(
            self,
            steered=steered,
            cones=tuple(replace(one, x_m=one.x_m + by_m) for one in self.cones),
            bounds=tuple(tuple((x + by_m, y) for x, y in chain) for chain in self.bounds),
            lanes=tuple(
                replace(one, from_m=one.from_m + by_m, to_m=one.to_m + by_m) for one in self.lanes
            ),
        )


@dataclass(frozen=True, slots=True)
class Layout:
    """A course with the pieces of the path through its middle, run-up and run-out among them.

    places: names of places without length, with their stations in m.
    """

    course: Course
    pieces: tuple[Piece, ...]
    places: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Sizes:
    """What an author says of a course; lengths in m, angles in rad, speeds in m/s. None: not said."""

    vehicle_width_m: float | None = None
    offset_read_as: str | None = None
    last_width_m: float | None = None
    lane_width_m: float | None = None
    radius_m: float | None = None
    angle_rad: float | None = None
    clothoid_m: float | None = None
    laps: int | None = None
    spacing_m: float | None = None
    count: int | None = None
    aside_m: float | None = None
    speed_mps: float | None = None
    lateral_mps: float | None = None
    lateral_mps2: float | None = None
    frequency_hz: float | None = None
    wheel_rad: float | None = None
    length_m: float | None = None
    departure: str | None = None
    side: str | None = None
    turn: Side | None = None
    run_up_m: float = 100.0
    run_out_m: float = 100.0
    line: LineKind | None = None
    margin_m: float | None = None

    @property
    def left(self) -> float:
        """1 to the left, -1 to the right."""
        return -1.0 if self.turn == "right" else 1.0


class CourseFault(Exception):
    """A course that can't be laid out so: the key at fault, what is wrong, what to write instead; others beside it."""

    def __init__(
        self, key: str, what: str, instead: str, *, others: tuple[CourseFault, ...] = ()
    ) -> None:
        super().__init__(what)
        self.key, self.what, self.instead = key, what, instead
        self.others = others

    @property
    def every(self) -> tuple[CourseFault, ...]:
        """It and those that were found beside it."""
        return self, *self.others


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of course: the keys that it needs, and those that it may have besides run-up and run-out."""

    needs: tuple[str, ...]
    may: tuple[str, ...] = field(default=())

    def takes(self, key: str) -> bool:
        """Whether it needs a key or may have it, besides run-up and run-out."""
        return key in (*self.needs, *self.may)
