"""Numbers as people on a track read them: km/h, metres to the millimetre, seconds to the millisecond."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping

from choreo.words.kinds import Unit

KMH_PER_MPS = 3.6
# The unit in which people write a quantity, and its factor from SI.
WRITTEN_IN: Mapping[Unit, tuple[str, float]] = {
    "m": ("m", 1.0),
    "s": ("s", 1.0),
    "m/s": ("km/h", KMH_PER_MPS),
    "m/s2": ("m/s2", 1.0),
    "m/s3": ("m/s3", 1.0),
}
# Digits beyond those shown in which a value still counts.
SPARE_DIGITS = 4
# A change is told with no more than so many digits beyond the usual ones.
MOST_DIGITS = 3
# Characters that could steer a terminal or reorder a line when a report shows them; tab and line ends stay.
CONTROL = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x84\x86-\x9f\u202a-\u202e\u2066-\u2069\ud800-\udfff]"
)
CONTROL_OR_LINE = re.compile(rf"{CONTROL.pattern}|[\t\n\r\x85\u2028\u2029]")


def how_many(count: int, what: str) -> str:
    """Give '1 run', '3 runs'."""
    return f"{count} {what}{'' if count == 1 else 's'}"


def metres(value_m: float) -> str:
    """'84.101 m'."""
    return f"{_clean(value_m, 3):.3f} m"


def seconds(value_s: float) -> str:
    """'6.519 s'."""
    return f"{_clean(value_s, 3):.3f} s"


def kmh(value_mps: float, digits: int = 2) -> str:
    """'40.00 km/h'."""
    return f"{plain(value_mps * KMH_PER_MPS, digits)} km/h"


def short_kmh(value_mps: float) -> str:
    """'40 km/h', '38.46 km/h': four significant digits, as a person writes a speed."""
    return f"{value_mps * KMH_PER_MPS:.4g} km/h"


def plain(value: float, digits: int = 3) -> str:
    """A number whose unit stands in the column's head; never '-0.000'."""
    return f"{_clean(value, digits):.{digits}f}"


def degrees(value_deg: float) -> str:
    """'90.00', within (-180, 180]."""
    return plain(-((-value_deg + 180) % 360 - 180), 2)


def of_limit(value: float, limit: float, digits: int) -> str:
    """'3.00 of 3.00'; only the value where there is no limit."""
    shown = plain(value, digits)
    return shown if not math.isfinite(limit) else f"{shown} of {limit:.{digits}f}"


def quantity(value: float, unit: str, more_digits: int = 0) -> str:
    """A value in the unit that people use for it: speeds in km/h, the rest as it is."""
    if unit == "m/s":
        return kmh(value, 2 + more_digits)
    digits = 2 if unit.startswith("m/s") else 3
    return f"{plain(value, digits + more_digits)} {unit}".rstrip()


def change(old: float, new: float, unit: str) -> tuple[str, str, str]:
    """Give a value, another, and the difference with its sign, in as many digits as tell the two apart.

    The new one is shown whole, as far as MOST_DIGITS more digits show it: who writes what he reads must get it.
    """
    shown = [
        (quantity(old, unit, more), quantity(new, unit, more)) for more in range(MOST_DIGITS + 1)
    ]
    ends = [float(then.split()[0]) for _, then in shown]
    enough = (
        more for more, (now, then) in enumerate(shown) if now != then and ends[more] == ends[-1]
    )
    more = next(enough, MOST_DIGITS)
    sign = "+" if new > old else "-"
    return *shown[more], sign + quantity(abs(new - old), unit, more)


def visible(text: str) -> str:
    """Give a text as one line, with what could steer a terminal or turn its direction shown as `<1b>`."""
    return CONTROL_OR_LINE.sub(lambda match: f"<{ord(match[0]):x}>", text)


def _clean(value: float, digits: int) -> float:
    """No '-0.000'; a value in the middle between two that can be shown doesn't turn over by its last bits."""
    rounded = round(round(value, digits + SPARE_DIGITS), digits)
    return 0.0 if rounded == 0 else rounded
