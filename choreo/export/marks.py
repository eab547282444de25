"""Places to stake out: site frame, earth, grid, and the tape distances that check them."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence
from itertools import combinations

import numpy as np

from choreo.ground.earth import Earth
from choreo.ground.grid import Grid
from choreo.words.kinds import PointName
from choreo.words.records import dataclass

# Digits of a CSV: a tenth of a millimetre in metres and in degrees of latitude alike.
METRE_DIGITS = 4
DEGREE_DIGITS = 9
ANGLE_DIGITS = 4


@dataclass(frozen=True, slots=True)
class StakePoint:
    """A place on the site (x, y in m), what it is for, the heading there if it has one, and which point is there.

    point: of the mover or movers whose place it is.
    """

    name: str
    what: str
    x_m: float
    y_m: float
    heading_deg: float | None
    point: PointName = "reference point"


@dataclass(frozen=True, slots=True)
class Mark:
    """A place as it can be found: on earth where the site has an anchor, in a grid where one was asked for."""

    place: StakePoint
    longitude_deg: float | None = None
    latitude_deg: float | None = None
    bearing_deg: float | None = None
    easting: float | None = None
    northing: float | None = None


@dataclass(frozen=True, slots=True)
class Tape:
    """The distance on the ground between two marks, for checking with a tape."""

    first: str
    second: str
    distance_m: float


def marks_of(
    places: Sequence[StakePoint], earth: Earth | None = None, grid: Grid | None = None
) -> tuple[Mark, ...]:
    """Give every place as a mark, in the order of places."""
    if earth is None or not places:
        return tuple(Mark(place) for place in places)
    x_m = np.array([place.x_m for place in places])
    y_m = np.array([place.y_m for place in places])
    longitudes, latitudes = earth.to_earth(x_m, y_m)
    grid_places = None if grid is None else grid.to_grid(x_m, y_m)
    marks = []
    for index, place in enumerate(places):
        heading_deg = place.heading_deg
        bearing_deg = (
            None if heading_deg is None else float(earth.bearing_deg(math.radians(heading_deg)))
        )
        easting, northing = (
            (None, None)
            if grid_places is None
            else (float(grid_places[0][index]), float(grid_places[1][index]))
        )
        marks.append(
            Mark(
                place,
                float(longitudes[index]),
                float(latitudes[index]),
                bearing_deg,
                easting,
                northing,
            )
        )
    return tuple(marks)


def tapes_between(places: Sequence[StakePoint]) -> tuple[Tape, ...]:
    """Give the ground distance of every pair of places."""
    return tuple(
        Tape(a.name, b.name, math.hypot(a.x_m - b.x_m, a.y_m - b.y_m))
        for a, b in combinations(places, 2)
    )


def marks_csv(marks: Sequence[Mark], earth: Earth | None = None, grid: Grid | None = None) -> str:
    """Give marks as CSV: a header with units, a line each; columns of earth and grid where there are any.

    `datum` and `grid` stand in every line: degrees and grid metres mean nothing without them.
    """
    header = ["name", "what", "x_m", "y_m", "heading_deg"]
    if earth is not None:
        header += ["longitude_deg", "latitude_deg", "bearing_deg", "datum"]
    if grid is not None:
        header += [f"easting_{grid.unit}", f"northing_{grid.unit}", "grid"]
    header.append("point")
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(header)
    for mark in marks:
        place = mark.place
        row = [place.name, place.what, fixed(place.x_m, METRE_DIGITS)]
        row += [fixed(place.y_m, METRE_DIGITS), fixed(place.heading_deg, ANGLE_DIGITS)]
        if earth is not None:
            row += [fixed(mark.longitude_deg, DEGREE_DIGITS)]
            row += [fixed(mark.latitude_deg, DEGREE_DIGITS)]
            row += [fixed(mark.bearing_deg, ANGLE_DIGITS), earth.anchor.datum]
        if grid is not None:
            row += [fixed(mark.easting, METRE_DIGITS), fixed(mark.northing, METRE_DIGITS)]
            row += [grid.code]
        row.append(place.point)
        writer.writerow(row)
    return stream.getvalue()


def fixed(value: float | None, digits: int) -> str:
    """A number with that many digits, never `-0.0`; empty for None."""
    if value is None:
        return ""
    rounded = round(value, digits)
    return f"{0.0 if rounded == 0 else rounded:.{digits}f}"
