"""Field types of the file models: text in the file, SI inside, a pattern and examples for editors."""

from __future__ import annotations

from functools import partial
from typing import Annotated, Any

from pydantic import BeforeValidator, WithJsonSchema
from pydantic_core import PydanticCustomError

from choreo.scenario.records.scenario import FREE, Span
from choreo.words.quantities import KINDS, QuantityError, parse, parse_range, quoted
from choreo.words.records import dataclass
from choreo.words.units import QuantityKind

# What an acceleration across the way ends in.
LATERAL = " lateral"


def _read(kind: QuantityKind, value: Any) -> float:
    try:
        return parse(_text(value), kind)
    except QuantityError as error:
        raise wrong(error.wrong, error.instead) from None


def _read_positive(kind: QuantityKind, value: Any) -> float:
    number = _read(kind, value)
    if number <= 0:
        example = KINDS[kind].example
        raise wrong(
            f"`{value}` must be more than zero",
            f"Write {KINDS[kind].a} over zero, like `{example}`.",
        )
    return number


def _read_not_negative(kind: QuantityKind, value: Any) -> float:
    number = _read(kind, value)
    if number < 0:
        example = KINDS[kind].example
        raise wrong(
            f"`{value}` must not be negative",
            f"Write {KINDS[kind].a} from zero up, like `{example}`.",
        )
    return number


def _read_not_zero(kind: QuantityKind, value: Any) -> float:
    number = _read(kind, value)
    if number == 0:
        example = KINDS[kind].example
        raise wrong(
            f"`{value}` must not be zero", f"Write a {kind} other than zero, like `{example}`."
        )
    return number


def _read_span(kind: QuantityKind, free: bool, value: Any) -> Span:
    """A value, a range or, where it can be solved, `free`; nothing below zero."""
    ends = value if isinstance(value, (list, tuple)) else ()
    if len(ends) == 2 and all(isinstance(one, str) for one in ends):
        raise wrong(
            "a range is no list", f"Write `{quoted(ends[0].strip())}..{quoted(ends[1].strip())}`."
        )
    try:
        span = Span(*parse_range(_text(value), kind, free=free))
    except QuantityError as error:
        raise wrong(error.wrong, error.instead) from None
    if span != FREE and span.lo < 0:
        example = KINDS[kind].example
        raise wrong(
            f"`{value}` must not be negative",
            f"Write {KINDS[kind].a} from zero up, like `{example}`.",
        )
    return span


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise QuantityError(
            "a single value is wanted here", "Write one quantity, not a list or a block."
        )
    return value


def text_of(value: Any) -> str:
    """Give a value that must be text; a list or a block is refused in our own words."""
    if not isinstance(value, str):
        raise wrong("a single value is wanted here", "Write one value, not a list or a block.")
    return value


def _read_rate(value: Any) -> Span:
    """A rate, a range of rates or `free`; a single one is more than zero."""
    span = _read_span("acceleration", True, value)
    if span.fixed and span.lo <= 0:
        _read_positive("acceleration", value)
    return span


def _read_after_go(value: Any) -> float:
    """A moment of the clock: `12 s after go`, in s."""
    text, words = text_of(value), "after go"
    try:
        time_s = parse(text.removesuffix(words).strip(), "time")
    except QuantityError:
        time_s = -1.0
    if time_s < 0 or not text.endswith(words):
        raise wrong(
            f"`{quoted(text)}` is no time after go",
            f"Write `until: 12 s {words}`; `lasting: 12 s` if it stands that long, `for: TRIGGER` if a trigger "
            "ends it.",
        )
    return time_s


def wrong(what: str, instead: str) -> PydanticCustomError:
    """An error with our own words: what is wrong, and what to write."""
    return PydanticCustomError("quantity", "{what}", {"what": what, "instead": instead})


@dataclass(frozen=True, slots=True)
class Lateral:
    """A lateral acceleration in m/s2 instead of a speed."""

    accel_mps2: float


def goal_of(value: str) -> Lateral:
    """Read `0.8 g lateral`. Raises a fault of our own words."""
    return Lateral(_read_positive("acceleration", value.removesuffix(LATERAL).strip()))


def _read_goal(value: Any) -> Span | Lateral:
    """A speed, a range or `free`, or `0.8 g lateral`."""
    if isinstance(value, str) and value.endswith(LATERAL):
        return goal_of(value)
    return _read_span("speed", True, value)


def _schema(
    kind: QuantityKind, *, span: bool = False, free: bool = False, lateral: bool = False
) -> WithJsonSchema:
    one = {"type": "string", "pattern": KINDS[kind].pattern, "examples": [KINDS[kind].example]}
    named = {
        "type": "string",
        "pattern": r"^\$[A-Za-z][A-Za-z0-9_-]*$",
        "description": "a value's name",
    }
    options: list[dict[str, Any]] = [one, named]
    if kind in ("length", "speed", "acceleration", "jerk"):
        options.append({"type": "string", "pattern": r"^-?[0-9.]+ deg(/s[23]?)?$"})
    if lateral:
        options.append({"type": "string", "pattern": rf"^\S+ (m/s2|g){LATERAL}$"})
    if span:
        options.append(
            {"type": "string", "pattern": KINDS[kind].range_pattern, "description": "a range"}
        )
    if free:
        options.append({"type": "string", "enum": ["free"], "description": "to be solved"})
    return WithJsonSchema({"anyOf": options, "description": f"{kind}, e.g. {KINDS[kind].example}"})


Length = Annotated[float, BeforeValidator(partial(_read, "length")), _schema("length")]
PositiveLength = Annotated[
    float, BeforeValidator(partial(_read_positive, "length")), _schema("length")
]
Distance = Annotated[
    float, BeforeValidator(partial(_read_not_negative, "length")), _schema("length")
]
Speed = Annotated[float, BeforeValidator(partial(_read, "speed")), _schema("speed")]
PositiveSpeed = Annotated[
    float, BeforeValidator(partial(_read_positive, "speed")), _schema("speed")
]
Acceleration = Annotated[
    float, BeforeValidator(partial(_read_positive, "acceleration")), _schema("acceleration")
]
Rate = Annotated[Span, BeforeValidator(_read_rate), _schema("acceleration", span=True, free=True)]
Jerk = Annotated[float, BeforeValidator(partial(_read_positive, "jerk")), _schema("jerk")]
Time = Annotated[float, BeforeValidator(partial(_read_not_negative, "time")), _schema("time")]
PositiveTime = Annotated[float, BeforeValidator(partial(_read_positive, "time")), _schema("time")]
Angle = Annotated[float, BeforeValidator(partial(_read, "angle")), _schema("angle")]
Ratio = Annotated[float, BeforeValidator(partial(_read, "ratio")), _schema("ratio")]
Frequency = Annotated[
    float, BeforeValidator(partial(_read_positive, "frequency")), _schema("frequency")
]
AfterGo = Annotated[
    float,
    BeforeValidator(_read_after_go),
    WithJsonSchema(
        {
            "type": "string",
            "description": "a time of the clock",
            "pattern": r"^.+ after go$",
            "examples": ["12 s after go"],
        }
    ),
]
LengthNotZero = Annotated[
    float, BeforeValidator(partial(_read_not_zero, "length")), _schema("length")
]
AngleNotZero = Annotated[float, BeforeValidator(partial(_read_not_zero, "angle")), _schema("angle")]
LengthRange = Annotated[
    Span, BeforeValidator(partial(_read_span, "length", False)), _schema("length", span=True)
]
TimeRange = Annotated[
    Span, BeforeValidator(partial(_read_span, "time", False)), _schema("time", span=True)
]
LengthSpan = Annotated[
    Span,
    BeforeValidator(partial(_read_span, "length", True)),
    _schema("length", span=True, free=True),
]
SpeedSpan = Annotated[
    Span,
    BeforeValidator(partial(_read_span, "speed", True)),
    _schema("speed", span=True, free=True),
]
SpeedRange = Annotated[
    Span, BeforeValidator(partial(_read_span, "speed", False)), _schema("speed", span=True)
]
Goal = Annotated[
    Span | Lateral,
    BeforeValidator(_read_goal),
    _schema("speed", span=True, free=True, lateral=True),
]
TimeSpan = Annotated[
    Span, BeforeValidator(partial(_read_span, "time", True)), _schema("time", span=True, free=True)
]
