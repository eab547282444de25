"""Simulated recordings as files: a CSV a run, and the description that `choreo score` reads them by.

Both say in their first line that nothing was measured.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, timedelta

import numpy as np

from choreo.ground.earth import Earth
from choreo.recordings.leap_seconds import GPS_EPOCH, gps_ahead_s
from choreo.recordings.record import Floats, Track
from choreo.recordings.recorder import Recorder

# By what a reader knows a simulated recording: the first words of its first line.
MARK = "simulated by choreo"
# A made-up day: recordings are the same whenever they are made.
FIRST_RUN = datetime(2025, 6, 2, 9, 0, 0, tzinfo=UTC)
BETWEEN_RUNS = timedelta(minutes=10)
TIME_UNITS = {"recording": "s", "utc": "UTC", "gps": "s"}
# What is written of each mover: its name in a column, its unit, digits behind the point.
OF_SITE = (("x", "m", 4), ("y", "m", 4))
OF_EARTH = (("longitude", "deg", 10), ("latitude", "deg", 10))
ALWAYS = (("heading", "deg", 4), ("speed", "km/h", 4), ("acceleration", "m/s2", 4))


def run_lines(
    about: str,
    times_s: Floats,
    tracks: Mapping[str, Track],
    detected: Mapping[str, Floats],
    recorder: Recorder,
    earth: Earth | None,
    number: int,
) -> Iterator[str]:
    """Give one run as lines of a CSV file. times_s: from the first sample on, shape (n,).

    tracks: as measured. detected: by trigger, 1 from its detection on, shape (n,). earth: where places are written on
    earth. number: of the run, from 1.
    """
    columns = [("time", TIME_UNITS[recorder.clock], _clock(times_s, recorder, number))]
    for name, track in tracks.items():
        kinds = (*(OF_SITE if earth is None else OF_EARTH), *ALWAYS)
        first, second = (
            (track.x_m, track.y_m) if earth is None else earth.to_wgs84(track.x_m, track.y_m)
        )
        accel = np.full(len(times_s), math.nan) if track.accel_mps2 is None else track.accel_mps2
        values = (first, second, np.degrees(track.heading_rad), 3.6 * track.speed_mps, accel)
        for (what, unit, digits), column in zip(kinds, values, strict=True):
            columns.append((f"{name} {what}", unit, _cells(column, digits)))
    for name, flags in detected.items():
        columns.append((f"{name} detected", "1", [f"{one:.0f}" for one in flags]))
    yield f"# {MARK}, no measurement: {about}\n"
    yield ",".join(name for name, _, _ in columns) + "\n"
    yield ",".join(unit for _, unit, _ in columns) + "\n"
    for row in zip(*(cells for _, _, cells in columns), strict=True):
        yield ",".join(row) + "\n"


def _cells(values: Floats, digits: int) -> list[str]:
    return ["" if math.isnan(one) else f"{one:.{digits}f}" for one in values.tolist()]


def _clock(times_s: Floats, recorder: Recorder, number: int) -> list[str]:
    begins = FIRST_RUN + (number - 1) * BETWEEN_RUNS
    if recorder.clock == "recording":
        return [f"{one:.4f}" for one in times_s]
    if recorder.clock == "gps":
        first = (begins - GPS_EPOCH).total_seconds() + gps_ahead_s(begins)
        return [f"{first + one:.4f}" for one in times_s]
    stamps = (begins + timedelta(seconds=one) for one in times_s.tolist())
    return [one.strftime("%Y-%m-%dT%H:%M:%S.%f") + "Z" for one in stamps]


def description_of(
    about: str, movers: Mapping[str, bool], triggers: Mapping[str, object], recorder: Recorder
) -> Iterator[str]:
    """Give the lines of a recording description for files written by run_lines. movers: by name, all that are there."""
    yield f"# {MARK}, no measurement: {about}\n"
    yield "choreo recording: 1\n"
    yield "files: simulated-*.csv\n"
    yield f"time: {{channel: time, of: {recorder.clock}}}\n"
    yield "movers:\n"
    for name in movers:
        where = (
            f"{{x: {name} x, y: {name} y}}"
            if recorder.places == "site"
            else f"{{longitude: {name} longitude, latitude: {name} latitude}}"
        )
        yield f"  {name}:\n"
        yield f"    position: {where}\n"
        if recorder.antenna_m != (0.0, 0.0):
            ahead, left = recorder.antenna_m
            yield f"    antenna: {{ahead: {ahead:g} m, left: {left:g} m}}\n"
        yield f"    heading: {{channel: {name} heading, from: x, clockwise: no}}\n"
        yield f"    speed: {{channel: {name} speed}}\n"
        yield f"    acceleration: {{channel: {name} acceleration}}\n"
    if triggers:
        yield "events:\n"
        for name in triggers:
            yield f"  {name}: {{channel: {name} detected, rises: 0.5}}\n"
    yield "# Of places averaged over 0.5 s, as scores use them; of single speeds and headings.\n"
    many = max(0.5 * recorder.rate_hz, 1.0) ** 0.5
    sizes = (
        ("position", f"{recorder.noise_m / many:.3g} m"),
        ("speed", f"{3.6 * recorder.noise_mps:g} km/h"),
        ("heading", f"{math.degrees(recorder.noise_rad):g} deg"),
    )
    yield "uncertainty: {" + ", ".join(f"{key}: {size}" for key, size in sizes) + "}\n"
