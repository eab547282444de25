"""Recorded positions and headings -> the site frame: grids, longitude and latitude, compass bearings, antennas."""

from __future__ import annotations

import math

import numpy as np

from choreo.ground.earth import Earth
from choreo.ground.grid import Grid
from choreo.recordings.channels import Channels, unreadable
from choreo.recordings.clock import factor_of
from choreo.recordings.record import Floats, Remark
from choreo.recordings.written import ChannelWritten, HeadingWritten, PositionWritten
from choreo.scenario import AnchorSpec
from choreo.words import ChoreoError, Finding, Origin
from choreo.words.quantities import quoted

# Slower than this (m/s) nothing has a course.
COURSE_MPS = 1.0
# Grids and degrees have units of their own.
USUAL_UNITS = {"longitude": "deg", "easting": "m"}


def in_si(
    channels: Channels,
    one: ChannelWritten,
    kind: str,
    remarks: list[Remark],
    usual: str | None = None,
) -> Floats:
    """Give a channel's numbers in SI, shape (n,). usual: its unit where nobody says one.

    Raises ChoreoError: no unit.
    """
    said = one.unit or channels.units.get(one.channel) or usual
    if one.unit is None and said is not None:
        remarks.append(Remark(one.channel, unit=said))
    factor = None if said is None else factor_of(said, kind)
    if factor is None:
        example = {"length": "m", "speed": "km/h", "angle": "deg", "acceleration": "m/s2"}[kind]
        why = (
            f"`{quoted(one.channel)}` has no unit, here or in the description"
            if said is None
            else f"`{quoted(said)}` of `{quoted(one.channel)}` is no unit of {'an' if kind[0] == 'a' else 'a'} {kind}"
        )
        raise unreadable(
            channels.file,
            why,
            f"Write `{{channel: {one.channel}, unit: {example}}}`.",
            max(channels.line(0) - 1, 1),
        )
    if channels.numbers.get(one.channel) is None:
        raise unreadable(
            channels.file,
            f"`{quoted(one.channel)}` holds times, not numbers",
            "Name another channel.",
        )
    return np.asarray(channels.numbers[one.channel] * factor)


def positions_of(
    channels: Channels,
    one: PositionWritten,
    anchor: AnchorSpec | None,
    place: Origin,
    remarks: list[Remark],
) -> tuple[Floats, Floats]:
    """Give x and y in the site frame in m, each of shape (n,), of what was recorded: where the antenna is.

    Raises ChoreoError: no anchor, an unknown grid, no unit.
    """

    def read(name: str, kind: str, usual: str | None = None) -> Floats:
        return in_si(channels, ChannelWritten(channel=name, unit=one.unit), kind, remarks, usual)

    if one.x is not None and one.y is not None:
        return read(one.x, "length"), read(one.y, "length")
    if anchor is None:
        raise ChoreoError([Finding("recording.no-anchor", "error", place, {"what": "places"})])
    if one.longitude is not None and one.latitude is not None:
        longitude, latitude = (
            np.degrees(read(name, "angle", "deg")) for name in (one.longitude, one.latitude)
        )
        return Earth(anchor).from_wgs84(longitude, latitude)
    if one.easting is None or one.northing is None or one.grid is None:
        raise AssertionError("a description has one pair of channels a position")
    return Grid(one.grid, anchor).to_site(
        read(one.easting, "length", "m"), read(one.northing, "length", "m")
    )


def headings_of(
    channels: Channels, one: HeadingWritten, anchor: AnchorSpec | None, remarks: list[Remark]
) -> Floats:
    """Give headings in the site frame in rad, without jumps, shape (n,)."""
    angle = in_si(channels, one, "angle", remarks)
    north = math.pi / 2 if anchor is None else math.radians(anchor.bearing_deg)
    if anchor is None and one.from_ in ("north", "east"):
        remarks.append(
            Remark(f"{one.channel}: the site has no anchor, north is taken along its y axis")
        )
    begins = {"x": 0.0, "y": math.pi / 2, "north": north, "east": north - math.pi / 2}[one.from_]
    turned = begins - angle if one.clockwise == "yes" else begins + angle
    return unwrapped(turned)


def unwrapped(angles_rad: Floats) -> Floats:
    """Give angles without jumps of a full turn, shape (n,); nan stays nan."""
    known = np.isfinite(angles_rad)
    found = angles_rad.copy()
    found[known] = np.unwrap(angles_rad[known])
    return found


def courses_of(time_s: Floats, x_m: Floats, y_m: Floats) -> Floats:
    """Give the direction of motion in rad, shape (n,), of positions; held where it stands."""
    dx, dy = np.gradient(x_m, time_s), np.gradient(y_m, time_s)
    course = np.where(np.hypot(dx, dy) >= COURSE_MPS, np.arctan2(dy, dx), np.nan)
    known = np.flatnonzero(np.isfinite(course))
    if not len(known):
        return np.zeros(len(course))
    course = unwrapped(course)
    return np.asarray(np.interp(np.arange(len(course)), known, course[known]))


def without_antenna(
    x_m: Floats, y_m: Floats, heading_rad: Floats, ahead_m: float, left_m: float
) -> tuple[Floats, Floats]:
    """Give where the reference point is, sample by sample, of an antenna so far ahead and left of it; shape (n,)."""
    cos, sin = np.cos(heading_rad), np.sin(heading_rad)
    return x_m - ahead_m * cos + left_m * sin, y_m - ahead_m * sin - left_m * cos
