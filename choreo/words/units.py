"""The table of quantity kinds and units, and common misspellings of units.

Angles scale to degrees here; quantities.py turns them into radians as the last step.
"""

from __future__ import annotations

import math
import re
from fractions import Fraction
from typing import Literal

from choreo.words.records import dataclass

NUMBER = r"[-+]?(?:[0-9]{1,20}(?:\.[0-9]{0,20})?|\.[0-9]{1,20})(?:[eE][-+]?[0-9]{1,2})?"


QuantityKind = Literal[
    "length",
    "speed",
    "acceleration",
    "jerk",
    "time",
    "angle",
    "ratio",
    "curvature",
    "frequency",
]


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of quantity: its name, `a` name for sentences, units (the usual one first), sane range.

    least, most: in the unit that factors lead to (SI; degrees for angles).
    """

    name: QuantityKind
    a: str
    units: tuple[str, ...]
    example: str
    least: float
    most: float
    range_text: str

    @property
    def pattern(self) -> str:
        """A regular expression of one quantity, for a JSON Schema."""
        return rf"^\s*{self._number_and_unit}\s*$"

    @property
    def range_pattern(self) -> str:
        """A regular expression of a range `30..50 km/h`, for a JSON Schema."""
        return rf"^\s*{NUMBER}\s*(?:{self._units})?\s*\.\.\s*{self._number_and_unit}\s*$"

    @property
    def _units(self) -> str:
        return "|".join(re.escape(unit) for unit in self.units)

    @property
    def _number_and_unit(self) -> str:
        return rf"{NUMBER}\s*(?:{self._units})"


@dataclass(frozen=True, slots=True)
class WrittenUnit:
    """A unit that authors may write: its kind and the exact factor to SI (to degrees for angles)."""

    kind: QuantityKind
    factor: Fraction


KINDS: dict[QuantityKind, Kind] = {
    kind.name: kind
    for kind in (
        Kind("length", "a length", ("m", "cm", "mm", "km"), "12 m", -1e5, 1e5, "-100 km to 100 km"),
        Kind(
            "speed",
            "a speed",
            ("km/h", "m/s", "mph"),
            "40 km/h",
            0,
            float(Fraction(5000, 36)),
            "0 to 500 km/h",
        ),
        Kind("acceleration", "an acceleration", ("m/s2", "g"), "3 m/s2", -50, 50, "-50 to 50 m/s2"),
        Kind("jerk", "a jerk", ("m/s3",), "4 m/s3", -10_000, 10_000, "-10000 to 10000 m/s3"),
        Kind("time", "a time", ("s", "ms", "min", "h"), "2 s", -86_400, 86_400, "-24 h to 24 h"),
        Kind("angle", "an angle", ("deg", "rad"), "90 deg", -3600, 3600, "-3600 to 3600 deg"),
        Kind("ratio", "a percentage", ("%",), "50 %", -10, 10, "-1000 to 1000 %"),
        Kind("curvature", "a curvature", ("1/m",), "0.02 1/m", -100, 100, "-100 to 100 1/m"),
        Kind("frequency", "a frequency", ("Hz",), "100 Hz", 0, 1e6, "0 to 1000000 Hz"),
    )
}

UNITS: dict[str, WrittenUnit] = {
    "m": WrittenUnit("length", Fraction(1)),
    "cm": WrittenUnit("length", Fraction(1, 100)),
    "mm": WrittenUnit("length", Fraction(1, 1000)),
    "km": WrittenUnit("length", Fraction(1000)),
    "km/h": WrittenUnit("speed", Fraction(10, 36)),
    "m/s": WrittenUnit("speed", Fraction(1)),
    # International mile, 1609.344 m exactly.
    "mph": WrittenUnit("speed", Fraction(1_609_344, 3_600_000)),
    "m/s2": WrittenUnit("acceleration", Fraction(1)),
    # Standard gravity, 9.80665 m/s2 exactly by definition (3rd CGPM, 1901).
    "g": WrittenUnit("acceleration", Fraction(980_665, 100_000)),
    "m/s3": WrittenUnit("jerk", Fraction(1)),
    "s": WrittenUnit("time", Fraction(1)),
    "ms": WrittenUnit("time", Fraction(1, 1000)),
    "min": WrittenUnit("time", Fraction(60)),
    "h": WrittenUnit("time", Fraction(3600)),
    "deg": WrittenUnit("angle", Fraction(1)),
    "rad": WrittenUnit("angle", Fraction(180 / math.pi)),
    "%": WrittenUnit("ratio", Fraction(1, 100)),
    "1/m": WrittenUnit("curvature", Fraction(1)),
    "Hz": WrittenUnit("frequency", Fraction(1)),
}

# What people write, in lower case without blanks and dots, and the unit that they mean.
SPELLINGS: dict[str, str] = {unit.lower(): unit for unit in UNITS} | {
    "kph": "km/h", "kmh": "km/h", "kmph": "km/h", "km/hr": "km/h", "kmh-1": "km/h",
    "km/std": "km/h", "mps": "m/s", "ms-1": "m/s", "m/sec": "m/s", "mi/h": "mph", "miles/h": "mph",
    "m/s^2": "m/s2", "m/s²": "m/s2", "m/s/s": "m/s2", "m/s**2": "m/s2", "ms-2": "m/s2",
    "mps2": "m/s2", "m/ss": "m/s2", "m/sec2": "m/s2",
    "m/s^3": "m/s3", "m/s³": "m/s3", "m/s/s/s": "m/s3", "m/s**3": "m/s3", "ms-3": "m/s3",
    "mps3": "m/s3",
    "sec": "s", "secs": "s", "second": "s", "seconds": "s", "msec": "ms", "millisecond": "ms",
    "milliseconds": "ms", "minute": "min", "minutes": "min",
    "hour": "h", "hours": "h", "hrs": "h", "std": "h",
    "°": "deg", "degree": "deg", "degrees": "deg", "grad": "deg", "radian": "rad", "radians": "rad",
    "meter": "m", "meters": "m", "metre": "m", "metres": "m", "mtr": "m",
    "centimetre": "cm", "centimeter": "cm", "millimetre": "mm", "millimeter": "mm",
    "kilometre": "km", "kilometer": "km",
    "percent": "%", "pct": "%", "percents": "%", "m-1": "1/m", "m^-1": "1/m", "hertz": "Hz",
}  # fmt: skip

# Units that are refused, so that a file has few ways to say a thing: what people write, in lower case without blanks
# and dots, its kind and the exact factor to SI (international yard and pound agreement, 1959; nautical mile 1852 m).
_FOREIGN: tuple[tuple[str, QuantityKind, Fraction], ...] = (
    ("in inch inches", "length", Fraction(254, 10_000)),
    ("ft foot feet", "length", Fraction(3048, 10_000)),
    ("yd yds yard yards", "length", Fraction(9144, 10_000)),
    ("mi mile miles", "length", Fraction(1_609_344, 1000)),
    ("nmi", "length", Fraction(1852)),
    ("kn kt kts knot knots", "speed", Fraction(1852, 3600)),
    ("ft/s fps", "speed", Fraction(3048, 10_000)),
    ("ft/s2 ft/s^2", "acceleration", Fraction(3048, 10_000)),
)
FOREIGN: dict[str, WrittenUnit] = {
    spelling: WrittenUnit(kind, factor)
    for spellings, kind, factor in _FOREIGN
    for spelling in spellings.split()
}
