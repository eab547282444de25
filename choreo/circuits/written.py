"""A circuit file as it is written: the main path, its laps and excursions, the vehicle, surfaces, a temperature."""

from __future__ import annotations

import math
import re
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, WithJsonSchema

from choreo.campaigns.day.written import Clock
from choreo.circuits.exposure import AXES, basis_mps2
from choreo.circuits.roads import RoadClass
from choreo.scenario.written.block import CountedName, Name, Written
from choreo.scenario.written.fields import (
    Distance,
    PositiveTime,
    text_of,
    wrong,
)
from choreo.scenario.written.paths import PieceWritten, YesNo
from choreo.words.quantities import QuantityError, parse, quoted
from choreo.words.records import dataclass
from choreo.words.units import QuantityKind

# More laps than this were meant otherwise.
MOST_LAPS = 100_000
LAPS = re.compile(r"([0-9]{1,9}) laps?")
DEGREES = re.compile(r"([-+]?[0-9]{1,6}(?:\.[0-9]{0,9})?) ?degC")


@dataclass(frozen=True, slots=True)
class Due:
    """After how many laps, how much time (s) or way (m); one of them."""

    laps: int | None = None
    time_s: float | None = None
    way_m: float | None = None


def _laps(value: Any) -> int:
    text = text_of(value).strip()
    if text.isascii() and text.isdigit() and 0 < int(text[:9]) <= MOST_LAPS:
        return int(text)
    raise wrong(
        f"`{quoted(text)}` is no number of laps",
        f"Write a whole number from 1 to {MOST_LAPS}, like `laps: 40`.",
    )


def _due(value: Any) -> Due:
    text = text_of(value).strip()
    match = LAPS.fullmatch(text)
    if match is not None and 0 < int(match[1]) <= MOST_LAPS:
        return Due(laps=int(match[1]))
    time_s, way_m = _amount(text, "time"), _amount(text, "length")
    if time_s > 0.0:
        return Due(time_s=time_s)
    if way_m > 0.0:
        return Due(way_m=way_m)
    raise wrong(
        f"`{quoted(text)}` doesn't say after how much",
        "Write it like `10 laps`, `30 min` or `50 km`.",
    )


def _amount(text: str, kind: QuantityKind) -> float:
    try:
        return parse(text, kind)
    except QuantityError:
        return 0.0


def _list(value: Any) -> Any:
    return (value,) if isinstance(value, str) else value


def _degrees(value: Any) -> float:
    text = text_of(value).strip()
    match = DEGREES.fullmatch(text)
    if match is None or not -273.15 <= float(match[1]) <= 5000.0:
        raise wrong(f"`{quoted(text)}` is no temperature", "Write it like `110 degC`.")
    return float(match[1])


def _vibration(value: Any) -> float:
    """One acceleration that counts, or those of x, y and z, of which the largest does; in m/s2."""
    axes = value if isinstance(value, list) else [value]
    example = "Write what counts of it, like `1.1 m/s2`, or x, y and z: `[0.35 m/s2, 0.28 m/s2, 0.62 m/s2]`."
    if len(axes) not in (1, len(AXES)):
        raise wrong(f"there are {len(axes)} values", example)
    try:
        found = [parse(text_of(one), "acceleration") for one in axes]
    except QuantityError as error:
        raise wrong(error.wrong, error.instead) from None
    if min(found) < 0.0 or max(found) <= 0.0:
        raise wrong(f"`{quoted(str(value))}` is no vibration", example)
    return found[0] if len(found) == 1 else basis_mps2(*found)


def _schema(example: str) -> WithJsonSchema:
    return WithJsonSchema({"type": "string", "examples": [example]})


Laps = Annotated[int, BeforeValidator(_laps), _schema("40")]
DueText = Annotated[Due, BeforeValidator(_due), _schema("10 laps")]
Vibration = Annotated[
    float,
    BeforeValidator(_vibration),
    WithJsonSchema({"type": ["string", "array"], "items": {"type": "string"}}),
]
Degrees = Annotated[float, BeforeValidator(_degrees), _schema("110 degC")]


class PauseWritten(Written):
    at: str | None = None
    for_: PositiveTime = Field(alias="for")


class ExcursionWritten(Written):
    path: str | None = None
    pieces: tuple[PieceWritten, ...] | None = None
    leaves: Distance
    joins: Distance
    every: DueText | None = None
    after: Annotated[tuple[DueText, ...], BeforeValidator(_list)] | None = None
    before: Degrees | None = None
    stop: PauseWritten | None = None


class CircuitWritten(Written):
    _blocks = frozenset({"excursions"})

    main: str
    laps: Laps
    start: Clock = 8 * 3600.0
    driven_by: Literal["robot", "person"] = Field("robot", alias="driven by")
    exposure_by: Literal["A(8)", "VDV", "both"] = Field("both", alias="exposure by")
    both_ways: YesNo = Field(False, alias="both ways")
    excursions: dict[Name, ExcursionWritten] = Field(default_factory=dict)


class RoughWritten(Written):
    """What a surface does to who drives on it."""

    vibration: Vibration | None = None
    road: RoadClass | None = None
    towards: Degrees | None = None
    over: PositiveTime | None = None


class TemperatureWritten(Written):
    starts: Degrees
    elsewhere: Degrees
    over: PositiveTime
    most: Degrees = math.inf


class CircuitFileWritten(Written):
    """The whole circuit file. paths and vehicle are those of a scenario, and checked as such."""

    _blocks = frozenset({"surfaces", "paths"})

    choreo_circuit: Literal["1"] = Field(alias="choreo circuit")
    title: str
    about: str = ""
    site: str | None = None
    fleet: Any = None
    paths: Any = None
    vehicle: Any
    circuit: CircuitWritten
    surfaces: dict[CountedName, RoughWritten] = Field(default_factory=dict)
    temperature: TemperatureWritten | None = None
