"""A recording description as it is written: which channels hold what of which mover, in which units, on which clock."""

from __future__ import annotations

from typing import Annotated, Any, ClassVar, Literal

from pydantic import BeforeValidator, Field, model_validator

from choreo.recordings.record import ClockName
from choreo.scenario.written.block import Name, Written
from choreo.scenario.written.fields import Distance, Length, Speed, Time, text_of, wrong
from choreo.words.quantities import QuantityError, parse, quoted

# From which direction a heading counts.
HeadingFrom = Literal["x", "y", "north", "east"]
YesNo = Literal["yes", "no"]


def _number(value: Any) -> float:
    text = text_of(value).strip()
    try:
        return float(text)
    except ValueError:
        raise wrong(
            f"`{quoted(text)}` is not a number", "Write the channel's own value, like `rises: 0.5`."
        ) from None


def _turn(value: Any) -> float:
    try:
        angle = parse(text_of(value), "angle")
    except QuantityError as error:
        raise wrong(error.wrong, error.instead) from None
    if angle < 0.0:
        raise wrong(
            f"`{value}` must not be negative", "Write an angle from zero up, like `0.1 deg`."
        )
    return angle


Level = Annotated[float, BeforeValidator(_number)]
Turn = Annotated[float, BeforeValidator(_turn)]


class ChannelWritten(Written):
    """A channel by its name in the file; `speed: v` is `speed: {channel: v}`."""

    _alone: ClassVar[str] = "channel"

    channel: str
    unit: str | None = None

    @model_validator(mode="before")
    @classmethod
    def _alone_is_the_channel(cls, data: Any) -> Any:
        return {"channel": data} if isinstance(data, str) and data else data


class HeadingWritten(ChannelWritten):
    from_: HeadingFrom = Field("x", alias="from")
    clockwise: YesNo = "no"


class TimeWritten(ChannelWritten):
    of: ClockName = "recording"


class PositionWritten(Written):
    x: str | None = None
    y: str | None = None
    easting: str | None = None
    northing: str | None = None
    grid: str | None = None
    longitude: str | None = None
    latitude: str | None = None
    unit: str | None = None


class AntennaWritten(Written):
    ahead: Length = 0.0
    left: Length = 0.0


class RecordedMoverWritten(Written):
    position: PositionWritten
    antenna: AntennaWritten | None = None
    speed: ChannelWritten | None = None
    heading: HeadingWritten | None = None
    acceleration: ChannelWritten | None = None
    signals: dict[str, ChannelWritten] = Field(default_factory=dict)
    files: str | None = None
    time: TimeWritten | None = None


class EventWritten(Written):
    channel: str
    rises: Level | None = None
    falls: Level | None = None


class UncertaintyWritten(Written):
    position: Distance | None = None
    speed: Speed | None = None
    heading: Turn | None = None
    time: Time | None = None


class RecordingWritten(Written):
    """The whole recording description."""

    _blocks = frozenset({"events", "uncertainty"})

    choreo_recording: Literal["1"] = Field(alias="choreo recording")
    files: str | None = None
    time: TimeWritten | None = None
    movers: dict[Name, RecordedMoverWritten]
    events: dict[Name, EventWritten] = Field(default_factory=dict)
    uncertainty: UncertaintyWritten | None = None
    delimiter: str | None = None
    decimal: str | None = None
