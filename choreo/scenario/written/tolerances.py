"""The file model of how far a mover may be off for a run to count: `0.5 km/h` either way, or `0..1 km/h`."""

from __future__ import annotations

from functools import partial
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, WithJsonSchema

from choreo.scenario.written.block import Written
from choreo.scenario.written.errors import MOST_OFF, numbers_of
from choreo.scenario.written.events import EventText
from choreo.scenario.written.fields import Ratio, text_of, wrong
from choreo.words.quantities import KINDS, quoted
from choreo.words.units import NUMBER, QuantityKind

EITHER_WAY = ("+/-", "+-", "±")
EXAMPLES: dict[QuantityKind, str] = {
    "speed": "`0.5 km/h`, or `0..1 km/h` for never slower",
    "length": "`0.05 m`, or `-0.05..0.10 m` for more to the left",
}


def _band(kind: QuantityKind, value: Any) -> tuple[float, float]:
    """Least and most in SI; a lone quantity holds either way."""
    text = text_of(value).strip()
    for sign in EITHER_WAY:
        text = text.removeprefix(sign).strip()
    example = f"Write {EXAMPLES[kind]}."
    numbers = numbers_of(text, kind)
    if numbers.way == "normal":
        raise wrong(f"`{quoted(text)}` is a distribution; a tolerance has two ends", example)
    low, high = numbers.first, numbers.second
    if numbers.way == "alone":
        low, high = -low, low
    if not low <= 0.0 <= high:
        raise wrong(f"`{quoted(text)}` leaves out what is planned itself", example)
    if low == high:
        raise wrong(f"`{quoted(text)}` is met by no run", example)
    most, words = MOST_OFF[kind]
    if max(-low, high) > most:
        raise wrong(
            f"`{quoted(text)}` is no tolerance round what is planned",
            f"Write by how much it may be off, up to {words}: {EXAMPLES[kind]}.",
        )
    return low, high


def _schema(kind: QuantityKind, example: str) -> WithJsonSchema:
    one = KINDS[kind].pattern.removeprefix("^").removesuffix("$")
    patterns = [rf"^(?:\+/-\s*)?{one}$", rf"^-?(?:{one}|\s*{NUMBER}\s*)\.\.\s*{one}$"]
    options = [{"type": "string", "pattern": pattern} for pattern in patterns]
    return WithJsonSchema({"anyOf": options, "examples": [example]})


SpeedBand = Annotated[
    tuple[float, float], BeforeValidator(partial(_band, "speed")), _schema("speed", "0.5 km/h")
]
LengthBand = Annotated[
    tuple[float, float], BeforeValidator(partial(_band, "length")), _schema("length", "0.05 m")
]


class TolerancesWritten(Written):
    speed: SpeedBand | None = None
    beside: LengthBand | None = None
    limits: Ratio | None = None
    since: EventText | None = Field(None, alias="from")
