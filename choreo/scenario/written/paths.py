"""The file models of paths and their pieces."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BeforeValidator, Field, WithJsonSchema

from choreo.scenario.written.block import CountedName, Point, Written
from choreo.scenario.written.courses import CourseKeysWritten
from choreo.scenario.written.fields import (
    Angle,
    AngleNotZero,
    Distance,
    Length,
    LengthNotZero,
    PositiveLength,
    SpeedRange,
    text_of,
    wrong,
)
from choreo.words.kinds import PIECE_KINDS, PieceKind
from choreo.words.quantities import QuantityError, parse, quoted


def _yes_no(value: Any) -> bool:
    if text_of(value) in ("yes", "true"):
        return True
    if value in ("no", "false"):
        return False
    raise wrong(f"`{quoted(value)}` is neither yes nor no", "Write `yes` or `no`.")


def _drive(value: Any) -> bool:
    ways = {"forwards": False, "backwards": True}
    if isinstance(value, str) and value in ways:
        return ways[value]
    raise wrong(f"`{quoted(value)}` is no way to drive", "Write `forwards` or `backwards`.")


def _radius(value: Any) -> float:
    """Curvature in 1/m from `straight` or a signed radius."""
    if text_of(value) == "straight":
        return 0.0
    try:
        radius = parse(value, "length")
    except QuantityError as error:
        raise wrong(
            error.wrong, "Write `straight` or a radius, like `50 m` (left) or `-50 m` (right)."
        ) from None
    if radius == 0:
        raise wrong("a radius of zero has no curve", "Write `straight` or a radius other than 0 m.")
    return 1 / radius


# Whether backwards.
Drive = Annotated[
    bool, BeforeValidator(_drive), WithJsonSchema({"enum": ["forwards", "backwards"]})
]
YesNo = Annotated[bool, BeforeValidator(_yes_no), WithJsonSchema({"enum": ["yes", "no"]})]
Radius = Annotated[
    float,
    BeforeValidator(_radius),
    WithJsonSchema({"type": "string", "description": "straight, or a radius: + left, - right"}),
]


class ArcWritten(Written):
    radius: PositiveLength
    angle: AngleNotZero


class ClothoidWritten(Written):
    length: PositiveLength
    start: Radius = Field(alias="from")
    to: Radius


class BendWritten(Written):
    radius: PositiveLength
    angle: AngleNotZero | None = None
    arc_angle: AngleNotZero | None = Field(None, alias="arc angle")
    clothoid_angle: AngleNotZero | None = Field(None, alias="clothoid angle")
    clothoid_length: PositiveLength | None = Field(None, alias="clothoid length")
    outer_radius: Radius = Field(0.0, alias="outer radius")


class ShiftWritten(Written):
    offset: LengthNotZero
    length: PositiveLength | None = None
    path_length: PositiveLength | None = Field(None, alias="path length")
    radius: PositiveLength | None = None
    transition: Distance | None = None


PieceBlock = float | ArcWritten | ClothoidWritten | BendWritten | ShiftWritten


class PieceWritten(Written):
    line: PositiveLength | None = None
    arc: ArcWritten | None = None
    clothoid: ClothoidWritten | None = None
    bend: BendWritten | None = None
    shift: ShiftWritten | None = None
    name: CountedName | None = None
    at: Point | None = None
    speed: SpeedRange | None = None
    surface: CountedName | None = None
    bank: AngleNotZero | None = None
    drive: Drive = False
    # Written out before anything is checked; here for editors.
    repeat: str | None = None
    pieces: tuple[PieceWritten, ...] | None = None

    def by_kind(self) -> dict[PieceKind, PieceBlock | None]:
        """Give what is written under each kind of piece; of a line its length in m."""
        return {kind: getattr(self, kind) for kind in PIECE_KINDS}


class PathWritten(CourseKeysWritten):
    start: Point | None = None
    heading: Angle = 0.0
    pieces: tuple[PieceWritten, ...] | None = None
    closed: YesNo = False
    beside: str | None = None
    offset: Length = 0.0
    reversed: YesNo = False
    from_station: Distance | None = Field(None, alias="from")
    to_station: Distance | None = Field(None, alias="to")
    surveyed: str | None = None
