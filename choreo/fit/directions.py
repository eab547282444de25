"""Directions of travel on a site: eight sectors, and arcs that are left out."""

from __future__ import annotations

import math

from choreo.words import ChoreoError, Finding
from choreo.words.quantities import QuantityError, parse, quoted
from choreo.words.records import dataclass

# The eight winds of a compass.
SECTORS = 8
SECTOR_RAD = 2 * math.pi / SECTORS
# A whole turn.
TURN_RAD = 2 * math.pi
COMPASS = (
    "north",
    "north-east",
    "east",
    "south-east",
    "south",
    "south-west",
    "west",
    "north-west",
)
# Arcs narrower than this (rad) are the rounding of a border, no direction to travel in.
NARROWEST_RAD = 1e-9
# What may stand before the spread of a direction.
SPREAD_MARKS = ("+/-", "+-", "±")


@dataclass(frozen=True, slots=True)
class Arc:
    """Headings from middle - half to middle + half, in rad, counter-clockwise from the site's x axis."""

    middle_rad: float
    half_rad: float


@dataclass(frozen=True, slots=True)
class Heading:
    """Allowed headings within one sector: from low to high, in rad, low <= high; sector: 0 to 7."""

    sector: int
    low_rad: float
    high_rad: float


def arc_of(text: str, option: str) -> Arc:
    """Read `235 deg +/- 30 deg`.

    Raises ChoreoError: place.bad-direction.
    """
    mark = next((mark for mark in SPREAD_MARKS if mark in text), None)
    if mark is None:
        raise _bad(option, text, "it says no range of directions")
    first, then = text.split(mark, 1)
    try:
        middle_rad, half_rad = parse(first, "angle"), parse(then, "angle")
    except QuantityError as error:
        raise _bad(option, text, error.wrong) from None
    if not 0 < half_rad <= math.pi:
        raise _bad(option, text, "the range must be more than 0 deg and at most 180 deg")
    return Arc(middle_rad, half_rad)


def of_bearing(arc: Arc, x_bearing_rad: float) -> Arc:
    """Give the headings of compass bearings (clockwise from north), the x axis having that bearing."""
    return Arc(x_bearing_rad - arc.middle_rad, arc.half_rad)


def allowed_headings(excluded: tuple[Arc, ...], offset_rad: float = 0.0) -> tuple[Heading, ...]:
    """Give what is left of each sector; sector k has its middle at offset_rad + k * 45 deg."""
    left = []
    for sector in range(SECTORS):
        middle = offset_rad + sector * SECTOR_RAD
        pieces = [(middle - SECTOR_RAD / 2, middle + SECTOR_RAD / 2)]
        for arc in excluded:
            pieces = [part for piece in pieces for part in _without(piece, arc)]
        left += [Heading(sector, low, high) for low, high in pieces]
    return tuple(left)


def sector_of(heading_rad: float, offset_rad: float = 0.0) -> int:
    """Give the sector of a heading."""
    return round((heading_rad - offset_rad) / SECTOR_RAD) % SECTORS


def sector_words(sector: int, x_bearing_rad: float | None) -> str:
    """Name a sector: by the compass where the site is anchored, else by its middle heading."""
    if x_bearing_rad is None:
        heading_deg = sector * 360 // SECTORS
        return f"towards {heading_deg if heading_deg <= 180 else heading_deg - 360} deg"
    return COMPASS[(2 - sector) % SECTORS]


def sector_offset_rad(x_bearing_rad: float | None) -> float:
    """Give the heading of sector 0's middle: the site's x axis, or east where the site is anchored."""
    return 0.0 if x_bearing_rad is None else x_bearing_rad - math.pi / 2


def _without(piece: tuple[float, float], arc: Arc) -> list[tuple[float, float]]:
    """What an arc leaves of a piece; both may be met a turn apart."""
    pieces = [piece]
    first = math.floor((piece[0] - arc.middle_rad - arc.half_rad) / TURN_RAD)
    for turn in range(first, first + 3):
        low = arc.middle_rad - arc.half_rad + turn * TURN_RAD
        high = arc.middle_rad + arc.half_rad + turn * TURN_RAD
        cut = []
        for begin, end in pieces:
            cut += [(begin, min(end, low)), (max(begin, high), end)]
        pieces = [(begin, end) for begin, end in cut if end - begin > NARROWEST_RAD]
    return pieces


def _bad(option: str, text: str, why: str) -> ChoreoError:
    values = {"option": option, "text": quoted(text), "why": why}
    return ChoreoError((Finding("place.bad-direction", "error", None, values, ()),))
