"""Quantities as people write them (`40 km/h`, `0.3 g`, `30..50 km/h`) to floats in SI.

Kinds, their units and the sane range of each stand in units.py. A fault says what to write instead.
"""

from __future__ import annotations

import math
import re
from fractions import Fraction
from functools import lru_cache

from choreo.words.nearest import nearest_word
from choreo.words.units import FOREIGN, KINDS, NUMBER, SPELLINGS, UNITS, Kind, QuantityKind

_SINGLE = re.compile(rf"({NUMBER})\s*(\S.*)?", re.DOTALL)
_DECIMAL_COMMA = re.compile(r"[-+]?[0-9]+,[0-9]+\s*\S*")
# A range with a dash, units beside one or both numbers, and a tolerance beside a value.
_DASHED = re.compile(rf"({NUMBER})\s*([^\s\d.+-]\S*?)?\s*[-\u2013\u2212]\s*({NUMBER})\s*(\S.*)?")
_TOLERANCE = re.compile(r"\s*(?:\+/-|\+-|\u00b1).*")
# A number of more digits in its exponent than are read.
_ENDLESS = re.compile(r"[-+]?[0-9.]+[eE][-+]?[0-9]{3,}\s*\D.*")
# A minus sign and a dash, as word processors write them.
_MINUS_SIGNS = "\u2212\u2013"
RANGE_MARK = ".."
FREE = "free"
# No quantity or range is longer; a pasted page is not looked through for one, since patterns go over it many times.
LONGEST_QUANTITY = 200
# So many texts are remembered: whoever reads many variants of a scenario reads most quantities again.
KEPT = 4096
# Letters of a user's text that a message repeats: it stays one line.
LONGEST_QUOTE = 60
# Of a file of data, which may have been named by mistake: enough to find the place.
LONGEST_TOKEN = 20

__all__ = ["KINDS", "QuantityError", "kind_of", "parse", "parse_range"]


class QuantityError(Exception):
    """A text that is not the wanted quantity: what is wrong, and what to write instead."""

    def __init__(self, wrong: str, instead: str) -> None:
        super().__init__(wrong)
        self.wrong = wrong
        self.instead = instead


def parse(text: str, kind: QuantityKind) -> float:
    """Read one quantity of a kind ('length', 'speed', ...); gives SI (m, s, m/s, rad; % as a fraction).

    Raises QuantityError: empty, no number, no unit, unknown or wrong unit, absurd, a range, `free`.
    """
    return _parsed(text, kind)


@lru_cache(maxsize=KEPT)
def _parsed(text: str, kind: QuantityKind) -> float:
    wanted = KINDS[kind]
    written = _short(text, wanted.a, wanted.example)
    if written == FREE:
        raise QuantityError(
            "`free` can't be used here", f"Write {wanted.a}, like `{wanted.example}`."
        )
    if RANGE_MARK in written or _dotted(written) is not None:
        raise QuantityError(
            f"`{quoted(written)}` is a range; a single {kind} is wanted",
            f"Write one {kind}, like `{wanted.example}`.",
        )
    number, unit = _parts(written, wanted)
    return _in_si(written, number, unit, wanted)


def parse_range(text: str, kind: QuantityKind, *, free: bool = True) -> tuple[float, float]:
    """Read a quantity or a range `30..50 km/h` as (least, most) in SI; `free` is (-inf, inf).

    Raises QuantityError: as parse, and a range whose end is below its beginning.
    """
    return _parsed_range(text, kind, free)


@lru_cache(maxsize=KEPT)
def _parsed_range(text: str, kind: QuantityKind, free: bool) -> tuple[float, float]:
    written = _short(text, KINDS[kind].a, KINDS[kind].example)
    if free and written == FREE:
        return (-math.inf, math.inf)
    if free and nearest_word(written, (FREE,)):
        raise QuantityError(f"`{quoted(written)}` is not {KINDS[kind].a}", f"Write `{FREE}`.")
    dotted = _dotted(written)
    if dotted is not None:
        raise QuantityError(
            f"`{quoted(written)}` has a dash; the ends of a range are parted by two dots",
            f"Write `{quoted(dotted)}`.",
        )
    if RANGE_MARK not in written:
        value = parse(written, kind)
        return (value, value)
    first, last = (part.strip() for part in written.split(RANGE_MARK, 1))
    number, unit = _parts(last, KINDS[kind])
    low = parse(first if _has_unit(first) else f"{first} {unit}", kind)
    high = parse(last, kind)
    if low > high:
        first_number = first.removesuffix(unit).strip()
        turned = (
            f"{number}..{first_number} {unit}"
            if not _has_unit(first_number)
            else f"{last}..{first}"
        )
        raise QuantityError(
            f"the range `{quoted(written)}` ends below its beginning", f"Write `{quoted(turned)}`."
        )
    return (low, high)


def kind_of(text: str) -> QuantityKind:
    """Give the kind of a quantity or range by its unit.

    Raises QuantityError: a text without a known unit.
    """
    written = _short(text, "a quantity with a unit", "40 km/h")
    last = written.rsplit(RANGE_MARK, 1)[-1].strip()
    match = _SINGLE.fullmatch(last)
    unit = (match[2] or "").strip() if match else ""
    if unit in UNITS:
        return UNITS[unit].kind
    number = match[1] if match else "40"
    dotted = _dotted(written)
    raise QuantityError(
        f"`{quoted(text.strip())}` is not a quantity with a unit",
        f"Write a range with two dots, `{quoted(dotted)}`; in a test matrix with its step, `{quoted(dotted)} by ...`."
        if dotted
        else f"Write a quantity, like `{number} {_guess(unit) or 'km/h'}`.",
    )


def _short(text: str, what: str, example: str) -> str:
    """Give a text without the blanks around it; QuantityError where it is too long to be one."""
    written = text.strip()
    if len(written) > LONGEST_QUANTITY:
        raise QuantityError(
            f"`{quoted(written)}` is not {what}", f"Write {what}, like `{example}`."
        )
    return written


def quoted(text: str, longest: int = LONGEST_QUOTE) -> str:
    """Give a user's text fit for one line of a message: shortened, control characters made visible."""
    shown = "".join(c if c.isprintable() else f"<{ord(c):x}>" for c in text[:longest])
    return shown if len(text) <= longest else f"{shown}..."


def _dotted(written: str) -> str | None:
    """A range written with a dash, as it is to be written; None for anything else."""
    match = _DASHED.fullmatch(written[: 2 * LONGEST_QUOTE])
    if match is None or not (match[2] or match[4]):
        return None
    first = f"{match[1]} {match[2]}" if match[2] and match[2] != match[4] else match[1]
    return f"{first}{RANGE_MARK}{match[3]} {match[4] or match[2]}"


def _has_unit(text: str) -> bool:
    match = _SINGLE.fullmatch(text)
    return bool(match and match[2])


def _parts(written: str, wanted: Kind) -> tuple[str, str]:
    """Split number and unit, the unit being one of the wanted kind."""
    if not written:
        raise QuantityError(
            f"nothing is written here; {wanted.a} is wanted",
            f"Write {wanted.a}, like `{wanted.example}`.",
        )
    match = _SINGLE.fullmatch(written)
    if match is None or _DECIMAL_COMMA.fullmatch(written):
        raise QuantityError(
            f"`{quoted(written)}` is not {wanted.a}",
            f"Write `{quoted(_repaired(written, wanted))}`.",
        )
    number, unit = match[1], (match[2] or "").strip()
    if _TOLERANCE.search(unit):
        value = f"{number} {_TOLERANCE.sub('', unit)}"
        raise QuantityError(
            f"`{quoted(written)}` has a tolerance in it; {wanted.a} is wanted",
            f"Write `{quoted(value)}`; what may be missed has a key of its own (`tolerance`).",
        )
    others = f" (units: {', '.join(wanted.units)})" if len(wanted.units) > 1 else ""
    if not unit:
        right = f"{number} {wanted.units[0]}"
        if wanted.name == "ratio" and "." in number and abs(float(number)) <= 1:
            right = f"{100 * float(number):g} %"
        raise QuantityError(
            f"`{quoted(written)}` has no unit; {wanted.a} is wanted",
            f"Write `{right}`{others}.",
        )
    if unit not in UNITS:
        if _ENDLESS.fullmatch(written):
            raise _absurd(written, wanted)
        guess = _converted(number, unit, wanted) or _added_up(written, wanted)
        right = f"`{guess}`" if guess else f"{wanted.a}, like `{wanted.example}`"
        raise QuantityError(
            f"`{quoted(unit)}` in `{quoted(written)}` is not a unit of {wanted.name}",
            f"Write {right}{others}.",
        )
    if unit not in wanted.units:
        raise QuantityError(
            f"`{quoted(written)}` is {KINDS[UNITS[unit].kind].a}; {wanted.a} is wanted",
            f"Write {wanted.a}, like `{wanted.example}`{others}.",
        )
    return number, unit


def _added_up(written: str, wanted: Kind) -> str | None:
    """A time in several units in the smallest of them, as `90 min`; None for anything else."""
    parts = re.findall(rf"({NUMBER})\s*(h|min|s)(?![a-z])", written)
    together = "".join(number + unit for number, unit in parts)
    if wanted.name != "time" or len(parts) < 2 or re.sub(r"\s", "", written) != together:
        return None
    last = parts[-1][1]
    seconds = sum(Fraction(number) * UNITS[unit].factor for number, unit in parts)
    return f"{float(seconds / UNITS[last].factor):.6g} {last}"


def _repaired(written: str, wanted: Kind) -> str:
    """What the author of a text without a readable number most likely meant."""
    if _DECIMAL_COMMA.fullmatch(written):
        return written.replace(",", ".")
    if written[0] in _MINUS_SIGNS and _SINGLE.fullmatch(written[1:].strip()):
        return f"-{written[1:].strip()}"
    return wanted.example


def _bare(unit: str) -> str:
    return re.sub(r"[\s.]", "", unit).lower()


def _guess(unit: str) -> str | None:
    return SPELLINGS.get(_bare(unit))


def _converted(number: str, unit: str, wanted: Kind) -> str | None:
    """A quantity in a unit that is known by another spelling, or in one that isn't written here; None for others."""
    guess = _guess(unit)
    if guess in wanted.units:
        return f"{number} {guess}"
    foreign = FOREIGN.get(_bare(unit))
    if foreign is None or foreign.kind != wanted.name:
        return None
    right = wanted.units[0]
    return f"{float(Fraction(number) * foreign.factor / UNITS[right].factor):.6g} {right}"


# A negative speed is meant for this.
REVERSING = " A mover that reverses has `drive: backwards`, and speeds from zero up."


def _in_si(written: str, number: str, unit: str, wanted: Kind) -> float:
    # Fractions round once, at the end: 40 km/h is the float nearest to 100/9 m/s on every machine.
    scaled = float(Fraction(number) * UNITS[unit].factor)
    if not wanted.least <= scaled <= wanted.most:
        raise _absurd(written, wanted, too_little=scaled < wanted.least)
    return math.radians(scaled) if wanted.name == "angle" else scaled


def _absurd(written: str, wanted: Kind, *, too_little: bool = False) -> QuantityError:
    """The fault of a number that no test needs; of one that is too large only the end that it oversteps is told."""
    wrong = f"`{quoted(written)}` is outside what any test needs"
    if wanted.least < 0.0 and not too_little:
        return QuantityError(wrong, f"Write {wanted.a} up to {wanted.range_text.split(' to ')[1]}.")
    reversing = REVERSING if too_little and wanted.name == "speed" else ""
    return QuantityError(wrong, f"Write {wanted.a} from {wanted.range_text}.{reversing}")
