"""The `day:` block of a campaign as written: hours, pauses, spacing, the way back, what movers need between runs."""

from __future__ import annotations

import re
from typing import Annotated, Any

from pydantic import (
    BeforeValidator,
    ConfigDict,
    Field,
    TypeAdapter,
    WithJsonSchema,
    model_validator,
)

from choreo.scenario.records.span import Span
from choreo.scenario.written.block import Written
from choreo.scenario.written.fields import (
    PositiveLength,
    PositiveSpeed,
    Ratio,
    Time,
    TimeRange,
    text_of,
    wrong,
)
from choreo.words.quantities import RANGE_MARK, quoted

CLOCK = re.compile(r"([0-9]{1,2}):([0-9]{2})")
COUNTED = re.compile(r"([0-9]{1,4})\s+(runs?|contacts?)")
MOST_DAYS = 366


def _clock(value: Any) -> float:
    """A time of the day, in s after midnight."""
    text = text_of(value).strip()
    match = CLOCK.fullmatch(text)
    if match is None or int(match[1]) > 24 or int(match[2]) > 59 or _seconds(match) > 86400.0:
        raise wrong(f"`{quoted(text)}` is no time of the day", "Write it like `08:30`.")
    return _seconds(match)


def _seconds(match: re.Match[str]) -> float:
    return int(match[1]) * 3600.0 + int(match[2]) * 60.0


def _pause(value: Any) -> tuple[float, float]:
    text = text_of(value)
    ends = text.split(RANGE_MARK)
    if len(ends) != 2:
        raise wrong(f"`{quoted(text)}` is no pause", "Write it like `12:00..12:45`.")
    start, end = _clock(ends[0]), _clock(ends[1])
    if start >= end:
        raise wrong(f"the pause `{quoted(text)}` ends before it begins", "Turn its ends round.")
    return start, end


def _listed(value: Any) -> Any:
    """A single one may be written without a list round it."""
    return (value,) if isinstance(value, str) else value


def _days(value: Any) -> int:
    text = text_of(value)
    if text.isascii() and text.isdigit() and 0 < int(text[:9]) <= MOST_DAYS:
        return int(text)
    raise wrong(
        f"`{quoted(text)}` is no number of days", f"Write a whole number up to {MOST_DAYS}."
    )


def _count_of(word: str) -> BeforeValidator:
    """`5 runs`, `20 contacts`."""

    def read(value: Any) -> int:
        text = text_of(value).strip()
        match = COUNTED.fullmatch(text)
        if match is None or match[2].rstrip("s") != word or int(match[1]) == 0:
            raise wrong(f"`{quoted(text)}` is no number of {word}s", f"Write it like `5 {word}s`.")
        return int(match[1])

    return BeforeValidator(read)


def _spacing(value: Any) -> Span:
    """`90 s..10 min`; a single time is the least, without a most."""
    text = text_of(value)
    span: Span = TypeAdapter(TimeRange).validate_python(text)
    return span if RANGE_MARK in text else Span(span.lo, float("inf"))


def _schema(pattern: str, example: str) -> WithJsonSchema:
    return WithJsonSchema({"type": "string", "pattern": pattern, "examples": [example]})


Clock = Annotated[float, BeforeValidator(_clock), _schema(r"^[0-9]{1,2}:[0-9]{2}$", "08:00")]
Pause = Annotated[
    tuple[float, float], BeforeValidator(_pause), _schema(r"^.+\.\..+$", "12:00..12:45")
]
Runs = Annotated[int, _count_of("run"), _schema(r"^[0-9]+ runs?$", "5 runs")]
Contacts = Annotated[int, _count_of("contact"), _schema(r"^[0-9]+ contacts?$", "20 contacts")]


class WayBackWritten(Written):
    """The drive back to the start marks."""

    speed: PositiveSpeed
    turn: Time = 0.0


class UpkeepWritten(Written):
    """What one mover needs between runs."""

    battery: PositiveLength | None = None
    strokes: Runs | None = None
    swap: Time | None = None
    cool_after: Runs | None = Field(None, alias="cool after")
    for_: Time | None = Field(None, alias="for")
    inspect_after: Contacts | None = Field(None, alias="inspect after")
    inspection: Time | None = None

    @model_validator(mode="before")
    @classmethod
    def _is_a_block(cls, data: Any) -> Any:
        if not isinstance(data, dict):
            raise wrong(
                "`day` has no such key, and a mover's name has a block behind it",
                "Its keys: `from`, `to`, `days`, `pauses`, `between runs`, `return`, `restage`, `valid`, `first`; "
                "of a mover `NAME: {battery: 6 km, swap: 10 min}`.",
            )
        return data


class DayWritten(Written):
    """The whole block; any other key is a mover's name."""

    model_config = ConfigDict(extra="allow")
    __pydantic_extra__: dict[str, UpkeepWritten]

    from_: Clock = Field(8 * 3600.0, alias="from")
    to: Clock = 17 * 3600.0
    days: Annotated[int, BeforeValidator(_days)] = 1
    pauses: Annotated[tuple[Pause, ...], BeforeValidator(_listed)] = ()
    between_runs: Annotated[Span, BeforeValidator(_spacing), _schema(r"^.+$", "90 s..10 min")] = (
        Field(Span(90.0, 600.0), alias="between runs")
    )
    return_: WayBackWritten | None = Field(None, alias="return")
    restage: Time = 360.0
    valid: Ratio | None = None
    first: Annotated[tuple[str, ...], BeforeValidator(_listed)] = ()

    @property
    def upkeep(self) -> dict[str, UpkeepWritten]:
        """What movers need, by name."""
        return self.__pydantic_extra__
