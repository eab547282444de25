"""Field types of the file models: text in the file, SI inside, a pattern and examples for editors."""

from __future__ import annotations

from functools import partial
from typing import Annotated, Any

from pydantic import BeforeValidator, WithJsonSchema
from pydantic_core import PydanticCustomError

from choreo.scenario.records import Event, Span
from choreo.words.quantities import KINDS, QuantityError, parse, parse_range


def _read(kind: str, value: Any) -> float:
    try:
        return parse(_text(value), kind)
    except QuantityError as error:
        raise wrong(error.wrong, error.instead) from None


def _read_positive(kind: str, value: Any) -> float:
    number = _read(kind, value)
    if number <= 0:
        example = KINDS[kind].example
        raise wrong(f"`{value}` must be more than zero", f"Write a positive {kind}, like `{example}`.")
    return number


def _read_not_negative(kind: str, value: Any) -> float:
    number = _read(kind, value)
    if number < 0:
        example = KINDS[kind].example
        raise wrong(f"`{value}` must not be negative", f"Write a {kind} from zero up, like `{example}`.")
    return number


def _read_span(kind: str, value: Any) -> Span:
    try:
        return Span(*parse_range(_text(value), kind))
    except QuantityError as error:
        raise wrong(error.wrong, error.instead) from None


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise QuantityError("a single value is wanted here", "Write one quantity, not a list or a block.")
    return value


def wrong(what: str, instead: str) -> PydanticCustomError:
    """An error with our own words: what is wrong, and what to write."""
    return PydanticCustomError("quantity", "{what}", {"what": what, "instead": instead})


def _schema(kind: str, *, span: bool = False) -> WithJsonSchema:
    one = {"type": "string", "pattern": KINDS[kind].pattern, "examples": [KINDS[kind].example]}
    named = {"type": "string", "pattern": r"^\$[A-Za-z][A-Za-z0-9_-]*$", "description": "a value's name"}
    options: list[dict[str, Any]] = [one, named]
    if span:
        options += [
            {"type": "string", "enum": ["free"]},
            {"type": "string", "pattern": r"\.\.", "description": "a range: 30..50 km/h"},
        ]
    return WithJsonSchema({"anyOf": options, "description": f"{kind}, e.g. {KINDS[kind].example}"})


def _event(value: Any) -> Event:
    """An event expression; whether what it names exists is checked later."""
    words = value.split() if isinstance(value, str) else []
    if len(words) == 1 and "." not in words[0]:
        return Event("name", words[0])
    if len(words) == 3 and words[:2] == ["launch", "of"]:
        return Event("launch", None, words[2])
    if len(words) >= 3 and words[0] in ("start", "end") and words[1] == "of":
        mover, dot, name = " ".join(words[2:]).partition(".")
        if dot and name:
            return Event(words[0], name, mover)
    raise wrong(
        f"`{value}` is not an event",
        "Write an encounter's, trigger's or instant's name, `launch of MOVER`, `start of MOVER.PHASE` or "
        "`end of MOVER.PHASE`.",
    )


Length = Annotated[float, BeforeValidator(partial(_read, "length")), _schema("length")]
PositiveLength = Annotated[float, BeforeValidator(partial(_read_positive, "length")), _schema("length")]
Distance = Annotated[float, BeforeValidator(partial(_read_not_negative, "length")), _schema("length")]
Speed = Annotated[float, BeforeValidator(partial(_read, "speed")), _schema("speed")]
PositiveSpeed = Annotated[float, BeforeValidator(partial(_read_positive, "speed")), _schema("speed")]
Acceleration = Annotated[
    float, BeforeValidator(partial(_read_positive, "acceleration")), _schema("acceleration")
]
Jerk = Annotated[float, BeforeValidator(partial(_read_positive, "jerk")), _schema("jerk")]
Time = Annotated[float, BeforeValidator(partial(_read, "time")), _schema("time")]
PositiveTime = Annotated[float, BeforeValidator(partial(_read_positive, "time")), _schema("time")]
Angle = Annotated[float, BeforeValidator(partial(_read, "angle")), _schema("angle")]
Ratio = Annotated[float, BeforeValidator(partial(_read, "ratio")), _schema("ratio")]
Frequency = Annotated[float, BeforeValidator(partial(_read_positive, "frequency")), _schema("frequency")]
LengthSpan = Annotated[Span, BeforeValidator(partial(_read_span, "length")), _schema("length", span=True)]
SpeedSpan = Annotated[Span, BeforeValidator(partial(_read_span, "speed")), _schema("speed", span=True)]
TimeSpan = Annotated[Span, BeforeValidator(partial(_read_span, "time")), _schema("time", span=True)]
EventText = Annotated[
    Event,
    BeforeValidator(_event),
    WithJsonSchema({"type": "string", "description": "an event", "examples": ["contact", "start of lead.brake"]}),
]
