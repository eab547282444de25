"""The file model of a sight line."""

from __future__ import annotations

import re
from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator, Field, WithJsonSchema

from choreo.scenario.written.block import Point, Written
from choreo.scenario.written.fields import PositiveLength, Ratio, text_of, wrong
from choreo.words.quantities import KINDS, QuantityError, parse, quoted

# What is meant when only `2.0 s to collision` is written.
SIGHT_TOLERANCE_S = 0.1
_WANTED = re.compile(r"(.*?)\s+to\s+collision(?:\s*(?:\+/-|±)\s*(.*))?", re.DOTALL)
_INSTEAD = (
    "Write the time left to the contact and a tolerance, like `2.0 s to collision +/- 0.1 s`."
)


def _first_seen(value: Any) -> tuple[float, float]:
    """Time to collision and tolerance in s from `2.0 s to collision +/- 0.1 s`."""
    match = _WANTED.fullmatch(text_of(value).strip())
    if match is None:
        raise wrong(f"`{quoted(value)}` says no time to collision", _INSTEAD)
    try:
        wanted_s = parse(match[1], "time")
        tolerance_s = SIGHT_TOLERANCE_S if match[2] is None else parse(match[2], "time")
    except QuantityError as error:
        raise wrong(error.wrong, _INSTEAD) from None
    if wanted_s <= 0 or tolerance_s <= 0:
        raise wrong("both times must be more than zero", _INSTEAD)
    return wanted_s, tolerance_s


def _share(value: float) -> float:
    """More than nothing, at most all."""
    if not 0 < value <= 1:
        raise wrong(
            f"{value * 100:g} % of a body can't be seen", "Write a share above 0 %, up to 100 %."
        )
    return value


Share = Annotated[Ratio, AfterValidator(_share)]
_time = KINDS["time"].pattern.removeprefix("^").removesuffix("$")
FirstSeen = Annotated[
    tuple[float, float],
    BeforeValidator(_first_seen),
    WithJsonSchema(
        {
            "type": "string",
            "pattern": rf"^\s*(?:{_time})\s+to\s+collision\s*(?:(?:\+/-|±)\s*(?:{_time}))?\s*$",
            "examples": ["2.0 s to collision +/- 0.1 s", "2.0 s to collision"],
        }
    ),
]


class SightWritten(Written):
    from_: str = Field("subject", alias="from")
    to: str
    share: Share = 0.5
    sensor: Point | None = None
    first_seen: FirstSeen | None = Field(None, alias="first seen at")
    moving: str | None = None
    within: PositiveLength | None = None
