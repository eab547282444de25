"""Simulated recordings as text: a CSV a run, and the description that `choreo score` reads them by.

Both say in their first line that nothing was measured.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from datetime import timedelta
from typing import Literal

from choreo.recordings.columns import MARK, Columns
from choreo.recordings.record import Floats
from choreo.recordings.recorder import Recorder

Kind = Literal["csv", "mdf4", "parquet", "iso-mme"]
# How the files of a kind are named, behind the number of their run.
ENDINGS: dict[Kind, str] = {
    "csv": ".csv",
    "mdf4": ".mf4",
    "parquet": ".parquet",
    "iso-mme": "/*.mme",
}
TIME_UNITS = {"recording": "s", "utc": "UTC", "gps": "s"}


def csv_lines(columns: Columns) -> Iterator[str]:
    """Give one run as lines of a CSV file."""
    cells = [(columns.time_name, TIME_UNITS[columns.clock], _clock(columns))]
    cells += [(one.name, one.unit, _cells(one.values, one.digits)) for one in columns.channels]
    yield f"# {MARK}, no measurement: {columns.about}\n"
    yield ",".join(name for name, _, _ in cells) + "\n"
    yield ",".join(unit for _, unit, _ in cells) + "\n"
    for row in zip(*(column for _, _, column in cells), strict=True):
        yield ",".join(row) + "\n"


def _cells(values: Floats, digits: int) -> list[str]:
    return ["" if math.isnan(one) else f"{one:.{digits}f}" for one in values.tolist()]


def _clock(columns: Columns) -> list[str]:
    if columns.clock != "utc":
        return [f"{one:.4f}" for one in columns.clock_s()]
    stamps = (columns.begins + timedelta(seconds=one) for one in columns.time_s.tolist())
    return [one.strftime("%Y-%m-%dT%H:%M:%S.%f") + "Z" for one in stamps]


def description_of(
    about: str, movers: Iterable[str], triggers: Iterable[str], recorder: Recorder, kind: Kind
) -> Iterator[str]:
    """Give the lines of a recording description for the files of a kind. movers: all that are there."""
    yield f"# {MARK}, no measurement: {about}\n"
    yield "choreo recording: 1\n"
    yield f"files: simulated-*{ENDINGS[kind]}\n"
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
    for number, name in enumerate(triggers):
        if not number:
            yield "events:\n"
        yield f"  {name}: {{channel: {name} detected, rises: 0.5}}\n"
    yield "# Of places averaged over 0.5 s, as scores use them; of single speeds and headings.\n"
    many = max(0.5 * recorder.rate_hz, 1.0) ** 0.5
    sizes = (
        ("position", f"{recorder.noise_m / many:.3g} m"),
        ("speed", f"{3.6 * recorder.noise_mps:g} km/h"),
        ("heading", f"{math.degrees(recorder.noise_rad):g} deg"),
    )
    yield "uncertainty: {" + ", ".join(f"{key}: {size}" for key, size in sizes) + "}\n"
