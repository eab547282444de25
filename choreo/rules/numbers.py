"""Numbers of rules as people write them (`+1.0 / -0 km/h`, `at least 0.9`, `35 degC`), and back.

Deviations may be negative, and there are units here that scenarios don't know: of turn rates, forces, the weather.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping

from choreo.rules.records import SignalUnit
from choreo.words.quantities import QuantityError, quoted
from choreo.words.records import dataclass
from choreo.words.units import NUMBER

# Units by the SI unit that they lead to, with their factors; the first is the one that bounds are told in.
UNITS: Mapping[SignalUnit, Mapping[str, float]] = {
    "m": {"m": 1.0, "mm": 1e-3, "cm": 1e-2, "km": 1e3},
    "s": {"s": 1.0, "ms": 1e-3, "min": 60.0},
    "m/s": {"km/h": 1 / 3.6, "m/s": 1.0, "mph": 1609.344 / 3600.0},
    "m/s2": {"m/s2": 1.0, "g": 9.80665},
    "rad": {"deg": math.pi / 180.0, "rad": 1.0},
    "rad/s": {"deg/s": math.pi / 180.0, "rad/s": 1.0},
    "1": {"": 1.0, "%": 1e-2},
    "N": {"N": 1.0},
    "Hz": {"Hz": 1.0},
    "degC": {"degC": 1.0},
    "lux": {"lux": 1.0},
    "kg": {"kg": 1.0},
}
# Where another unit is told than the first: quantities of a unit that people write otherwise.
TOLD: Mapping[str, str] = {
    "lateral velocity": "m/s",
    "wind": "m/s",
    "impact location": "%",
    "longitudinal slope": "%",
    "lateral slope": "%",
}
_ONE = re.compile(rf"({NUMBER})\s*(\S*)")
_BOTH = re.compile(rf"\+/-\s*({NUMBER})\s*(\S*)")
_TWO = re.compile(rf"\+\s*({NUMBER})\s*/\s*-\s*({NUMBER})\s*(\S*)")
_RANGE = re.compile(rf"({NUMBER})\s*(\S*?)\s*\.\.\s*({NUMBER})\s*(\S*)")
AT_LEAST, AT_MOST = "at least ", "at most "


@dataclass(frozen=True, slots=True)
class Bounds:
    """A range whose ends may be missing, SI."""

    lower: float | None
    upper: float | None


def number_of(text: str, unit: SignalUnit) -> float:
    """Read one number with its unit. Raises QuantityError: no number, another unit."""
    match = _ONE.fullmatch(text.strip())
    if match is None:
        raise QuantityError(f"`{quoted(text)}` is no number with a unit", _like(unit))
    return float(match[1]) * _factor(text, match[2], unit)


def bounds_of(text: str, unit: SignalUnit) -> Bounds:
    """Read bounds: `+/- 1 km/h`, `+1.0 / -0 km/h`, `12..40 m`, `at least 4 s`, `at most 10 m/s`.

    Raises QuantityError: anything else, a range that ends below its beginning.
    """
    written = text.strip()
    if written.startswith(AT_LEAST):
        return Bounds(number_of(written.removeprefix(AT_LEAST), unit), None)
    if written.startswith(AT_MOST):
        return Bounds(None, number_of(written.removeprefix(AT_MOST), unit))
    both = _BOTH.fullmatch(written)
    if both is not None:
        size = abs(float(both[1])) * _factor(text, both[2], unit)
        return Bounds(-size, size)
    two = _TWO.fullmatch(written)
    if two is not None:
        factor = _factor(text, two[3], unit)
        return Bounds(-abs(float(two[2])) * factor + 0.0, abs(float(two[1])) * factor)
    ends = _RANGE.fullmatch(written)
    if ends is None:
        raise QuantityError(f"`{quoted(text)}` says no bounds", _like(unit))
    last = _factor(text, ends[4], unit)
    low = float(ends[1]) * (_factor(text, ends[2], unit) if ends[2] else last)
    high = float(ends[3]) * last
    if low > high:
        raise QuantityError(
            f"the range `{quoted(text)}` ends below its beginning", "Turn it round."
        )
    return Bounds(low, high)


def told(value: float, unit: SignalUnit, quantity: str = "") -> str:
    """Give a number as people write it, `1.6 km/h`.

    quantity: a signal's or another's name, which may have a unit of its own.
    """
    name = TOLD.get(quantity, next(iter(UNITS[unit])))
    number = f"{value / UNITS[unit][name]:.4g}"
    return f"{'0' if number == '-0' else number} {name}".rstrip()


def told_bounds(
    lower: float | None,
    upper: float | None,
    unit: SignalUnit,
    quantity: str = "",
    *,
    plain: bool = False,
) -> str:
    """Give bounds as they are written: `+/- 1 km/h`, `+1 / -0 km/h`, `12..40 m`, `at least 4 s`.

    plain: of values themselves, not of how far they are off something: always `0..40 degC`.
    """
    if lower is None and upper is None:
        return "no bound"
    if lower is None or upper is None:
        one = upper if lower is None else lower
        word = AT_MOST if lower is None else AT_LEAST
        return word + told(one or 0.0, unit, quantity)
    if lower == upper:
        return told(lower, unit, quantity)
    high, _, name = told(upper, unit, quantity).partition(" ")
    low = told(lower, unit, quantity).partition(" ")[0]
    if math.isclose(-lower, upper):
        return f"+/- {high} {name}".rstrip()
    if lower <= 0 <= upper and not plain:
        return f"+{high} / -{low.removeprefix('-')} {name}".rstrip()
    return f"{low}..{high} {name}".rstrip()


def _factor(text: str, name: str, unit: SignalUnit) -> float:
    known = UNITS[unit]
    if name in known:
        return known[name]
    what = f"`{quoted(text)}` has no unit" if not name else f"`{quoted(name)}` isn't a unit of this"
    raise QuantityError(what, _like(unit))


def _like(unit: SignalUnit) -> str:
    name = next(iter(UNITS[unit]))
    return (
        f"Write it like `+/- 1 {name}".rstrip()
        + f"`, `+1 / -0 {name}".rstrip()
        + f"`, `0..1 {name}".rstrip()
        + f"`, `at least 1 {name}".rstrip()
        + "`."
    )
