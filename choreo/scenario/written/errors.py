"""The file models of what may be off: sources of error of a mover, and a trigger's latency with its spread.

`x +/- y` is normal with the standard deviation y, `a..b` is uniform, a lone quantity is a standard deviation round what
is planned.
"""

from __future__ import annotations

import re
from functools import partial
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, WithJsonSchema

from choreo.scenario.records.errors import Spread
from choreo.scenario.written.block import Written
from choreo.scenario.written.fields import PositiveLength, PositiveTime, text_of, wrong
from choreo.words.quantities import KINDS, QuantityError, parse, quoted
from choreo.words.records import dataclass
from choreo.words.units import NUMBER, QuantityKind

BARE_NUMBER = re.compile(rf"\s*{NUMBER}\s*")
MEAN_AND_DEVIATION = re.compile(r"(.*?)(?:\+/-|\+-|±)(.*)", re.DOTALL)
RANGE_MARK = ".."
# What is achieved of a planned rate: never more than this, and never less, where the distribution is cut. Common
# practice, no source.
MOST_ACHIEVED = 1.5
LEAST_ACHIEVED = 0.05
# More than this (SI) is no error round a plan: most likely the value itself was written. Common sense, no source.
MOST_OFF: dict[QuantityKind, tuple[float, str]] = {
    "speed": (20 / 3.6, "20 km/h"),
    "length": (10.0, "10 m"),
    "time": (10.0, "10 s"),
}
EXAMPLES: dict[QuantityKind, str] = {"speed": "0.3 km/h", "length": "0.02 m", "time": "10 ms"}
# Share of a distribution that may lie where nothing can be.
MOST_IMPOSSIBLE = 0.5


@dataclass(frozen=True, slots=True)
class Latency:
    """A trigger's latency in s as planned; spread: round it, None where only the planned one is written."""

    planned_s: float
    spread: Spread | None = None


@dataclass(frozen=True, slots=True)
class _Numbers:
    """One or two numbers in SI as written: a lone one, a mean and a standard deviation, the ends of a range."""

    way: Literal["alone", "normal", "uniform"]
    first: float
    second: float = 0.0

    def spread(self, planned: float) -> Spread:
        """The distribution that they mean; planned: round what a lone one spreads."""
        if self.way == "alone":
            return Spread("normal", planned, self.first)
        if self.way == "normal":
            return Spread("normal", self.first, self.second)
        return Spread("uniform", (self.first + self.second) / 2, (self.second - self.first) / 2)


def _signed(text: str, kind: QuantityKind) -> float:
    """A quantity that may be below zero, of a kind that has only positive ones too."""
    written = text.strip()
    if written.startswith("-"):
        return -parse(written[1:].strip(), kind)
    return parse(written, kind)


def _two(first: str, second: str, kind: QuantityKind) -> tuple[float, float]:
    """Two quantities of which the first may leave its unit to the second."""
    if BARE_NUMBER.fullmatch(first):
        first = f"{first.strip()} {re.sub(NUMBER, '', second.strip(), count=1)}"
    return _signed(first, kind), _signed(second, kind)


def numbers_of(value: Any, kind: QuantityKind) -> _Numbers:
    """Read a spread; raises a fault in our own words: units, a range turned round, a negative standard deviation."""
    text = text_of(value)
    try:
        both = MEAN_AND_DEVIATION.fullmatch(text)
        if both is not None:
            mean, deviation = _two(both[1], both[2], kind)
            _refuse_negative(both[2], deviation)
            return _Numbers("normal", mean, deviation)
        if RANGE_MARK in text:
            begin, end = text.split(RANGE_MARK, 1)
            low, high = _two(begin, end, kind)
            if low > high:
                raise wrong(
                    f"the range `{quoted(text)}` ends below its beginning",
                    "Write its smaller end first.",
                )
            return _Numbers("uniform", low, high)
        return _Numbers("alone", _signed(text, kind))
    except QuantityError as error:
        raise wrong(error.wrong, error.instead) from None


def _refuse_negative(text: str, deviation: float) -> None:
    if deviation < 0:
        right = text.strip().removeprefix("-").strip()
        raise wrong(
            f"`{quoted(text.strip())}` is a standard deviation, and none is negative",
            f"Write `{quoted(right)}`.",
        )


def _refuse_large(text: Any, kind: QuantityKind, spread: Spread) -> None:
    most, words = MOST_OFF[kind]
    half = spread.size if spread.shape == "uniform" else 0.0
    if max(abs(spread.middle) + half, spread.size) > most:
        raise wrong(
            f"`{quoted(str(text).strip())}` is no error round what is planned",
            f"Write by how much it is off, up to {words}, like `{EXAMPLES[kind]}`.",
        )


def _offset(kind: QuantityKind, value: Any) -> Spread:
    """By what something is off, either way."""
    numbers = numbers_of(value, kind)
    if numbers.way == "alone":
        _refuse_negative(value, numbers.first)
    spread = numbers.spread(0.0)
    _refuse_large(value, kind, spread)
    return spread


def _deviation(kind: QuantityKind, value: Any) -> float:
    """A standard deviation alone."""
    numbers = numbers_of(value, kind)
    if numbers.way != "alone":
        raise wrong(
            f"`{quoted(value.strip())}` is not one standard deviation",
            f"What wanders does so round nothing: write one size, like `{EXAMPLES[kind]}`.",
        )
    _refuse_negative(value, numbers.first)
    _refuse_large(value, kind, numbers.spread(0.0))
    return numbers.first


def _achieved(value: Any) -> Spread:
    """What share of a planned rate a drive achieves."""
    numbers, text = numbers_of(value, "ratio"), quoted(str(value).strip())
    if numbers.way == "alone":
        _refuse_negative(value, numbers.first)
    spread = numbers.spread(1.0)
    half = spread.size if spread.shape == "uniform" else 0.0
    example = "Write the mean and the standard deviation, like `98 % +/- 2 %`."
    if not LEAST_ACHIEVED <= spread.middle - half <= spread.middle + half <= MOST_ACHIEVED:
        raise wrong(f"no drive achieves `{text}` of a planned rate", example)
    if spread.shape == "normal" and spread.size > spread.middle / 3:
        raise wrong(f"`{text}` spreads so far that a rate may be nothing", example)
    return Spread(spread.shape, spread.middle, spread.size, LEAST_ACHIEVED)


def _delay(value: Any) -> Spread:
    """How much later than planned a launch comes: earlier by chance, never on average."""
    numbers = numbers_of(value, "time")
    if numbers.way == "alone":
        _refuse_negative(value, numbers.first)
    spread = numbers.spread(0.0)
    _refuse_large(value, "time", spread)
    if spread.middle < 0:
        raise wrong(
            f"`{quoted(str(value).strip())}` is mostly negative, and no drive moves before its command",
            "Write by how much its launch is late, like `20 ms +/- 10 ms`.",
        )
    return spread


def _latency(value: Any) -> Latency:
    """A planned latency, alone or with its spread, which is cut where the latency would be below zero."""
    numbers, text = numbers_of(value, "time"), quoted(str(value).strip())
    if numbers.way == "alone":
        if numbers.first < 0:
            raise wrong(
                f"`{text}` must not be negative", "Write a time from zero up, like `60 ms`."
            )
        return Latency(numbers.first)
    written = numbers.spread(0.0)
    spread = Spread(written.shape, 0.0, written.size, -written.middle)
    if written.middle < 0 or (written.size and spread.share_cut_off >= MOST_IMPOSSIBLE):
        raise wrong(
            f"`{text}` is mostly negative, and nothing acts before it is detected",
            "Write a mean over zero and a standard deviation, like `60 ms +/- 10 ms`.",
        )
    _refuse_large(value, "time", spread)
    return Latency(written.middle, spread)


def _schema(kind: QuantityKind, example: str, *, alone: bool = False) -> WithJsonSchema:
    one = KINDS[kind].pattern.removeprefix("^").removesuffix("$")
    first = rf"-?(?:{one}|\s*{NUMBER}\s*)"
    patterns = [rf"^-?{one}$", r"^\$[A-Za-z][A-Za-z0-9_-]*$"]
    if not alone:
        patterns += [rf"^{first}(?:\+/-|±){one}$", rf"^{first}\.\.\s*-?{one}$"]
    options = [{"type": "string", "pattern": pattern} for pattern in patterns]
    return WithJsonSchema({"anyOf": options, "examples": [example]})


SpeedOff = Annotated[
    Spread, BeforeValidator(partial(_offset, "speed")), _schema("speed", "0.3 km/h")
]
LengthOff = Annotated[
    Spread, BeforeValidator(partial(_offset, "length")), _schema("length", "0.02 m")
]
Achieved = Annotated[Spread, BeforeValidator(_achieved), _schema("ratio", "98 % +/- 2 %")]
Delay = Annotated[Spread, BeforeValidator(_delay), _schema("time", "20 ms +/- 10 ms")]
LatencyText = Annotated[Latency, BeforeValidator(_latency), _schema("time", "60 ms +/- 10 ms")]
SpeedDeviation = Annotated[
    float, BeforeValidator(partial(_deviation, "speed")), _schema("speed", "0.2 km/h", alone=True)
]
LengthDeviation = Annotated[
    float, BeforeValidator(partial(_deviation, "length")), _schema("length", "0.02 m", alone=True)
]


class SpeedWanderWritten(Written):
    size: SpeedDeviation
    over: PositiveTime


class PathWanderWritten(Written):
    size: LengthDeviation
    over: PositiveLength


class StartMarkWritten(Written):
    along: LengthOff | None = None
    beside: LengthOff | None = None


class PathErrorWritten(Written):
    offset: LengthOff | None = None
    wander: PathWanderWritten | None = None


class ErrorsWritten(Written):
    speed_held: SpeedOff | None = Field(None, alias="speed held")
    speed_wander: SpeedWanderWritten | None = Field(None, alias="speed wander")
    start_mark: StartMarkWritten | None = Field(None, alias="start mark")
    path: PathErrorWritten | None = None
    position: LengthOff | None = None
    achieved_acceleration: Achieved | None = Field(None, alias="achieved acceleration")
    achieved_braking: Achieved | None = Field(None, alias="achieved braking")
    launch: Delay | None = None
