"""The file model of what a path says of its course."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, WithJsonSchema

from choreo.scenario.written.block import Written
from choreo.scenario.written.fields import (
    Acceleration,
    AngleNotZero,
    Distance,
    Frequency,
    PositiveLength,
    PositiveSpeed,
    text_of,
    wrong,
)
from choreo.words.kinds import LineKind
from choreo.words.quantities import quoted

# More laps, or cones in a row, were meant otherwise.
MOST_COUNTED = 1000


def _count(value: Any) -> int:
    text = text_of(value)
    if text.isascii() and text.isdigit() and 0 < int(text[:9]) <= MOST_COUNTED and len(text) < 9:
        return int(text)
    raise wrong(f"`{quoted(value)}` is no count", f"Write a whole number from 1 to {MOST_COUNTED}.")


# A count reads as a number in an editor, and as text where every scalar is taken for that.
COUNT_SCHEMA = {"type": ["integer", "string"], "minimum": 1, "pattern": "^[1-9][0-9]*$"}
Count = Annotated[int, BeforeValidator(_count), WithJsonSchema(COUNT_SCHEMA)]


class CourseKeysWritten(Written):
    """What lays a course out; which of the keys a course needs its name says."""

    course: str | None = None
    vehicle_width: PositiveLength | None = Field(None, alias="vehicle width")
    offset_read_as: str | None = Field(None, alias="offset read as")
    last_width: PositiveLength | None = Field(None, alias="last width")
    lane_width: PositiveLength | None = Field(None, alias="lane width")
    radius: PositiveLength | None = None
    angle: AngleNotZero | None = None
    clothoid: Distance | None = None
    laps: Count | None = None
    spacing: PositiveLength | None = None
    count: Count | None = None
    aside: PositiveLength | None = None
    speed: PositiveSpeed | None = None
    lateral_speed: PositiveSpeed | None = Field(None, alias="lateral speed")
    lateral_acceleration: Acceleration | None = Field(None, alias="lateral acceleration")
    frequency: Frequency | None = None
    wheel_angle: AngleNotZero | None = Field(None, alias="wheel angle")
    length: PositiveLength | None = None
    departure: str | None = None
    side: str | None = None
    turn: Literal["left", "right"] | None = None
    run_up: PositiveLength | None = Field(None, alias="run-up")
    run_out: PositiveLength | None = Field(None, alias="run-out")
    line: LineKind | None = None
    margin: Distance | None = None
