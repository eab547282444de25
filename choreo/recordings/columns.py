"""A simulated run as named columns with their units, whatever file they are written to."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta

import numpy as np

from choreo.ground.earth import Earth
from choreo.recordings.clock import since_epoch
from choreo.recordings.record import ClockName, Floats, Track
from choreo.recordings.recorder import Recorder
from choreo.words.records import dataclass

# By what a reader knows a simulated recording, wherever its kind of file has room for words.
MARK = "simulated by choreo"
# A made-up day: recordings are the same whenever they are made.
FIRST_RUN = datetime(2025, 6, 2, 9, 0, 0, tzinfo=UTC)
BETWEEN_RUNS = timedelta(minutes=10)
TIME = "time"
# What is written of each mover: its name in a column, its unit, digits behind the point in a text.
OF_SITE = (("x", "m", 4), ("y", "m", 4))
OF_EARTH = (("longitude", "deg", 10), ("latitude", "deg", 10))
ALWAYS = (("heading", "deg", 4), ("speed", "km/h", 4), ("acceleration", "m/s2", 4))
DETECTED = ("detected", "1", 0)


@dataclass(frozen=True, eq=False)
class Column:
    """One channel, values of shape (n,), nan where it is not known. owner, what: whose, of what; digits: in a text."""

    owner: str
    what: str
    unit: str
    digits: int
    values: Floats

    @property
    def name(self) -> str:
        """What the channel is called."""
        return f"{self.owner} {self.what}"


@dataclass(frozen=True, eq=False)
class Columns:
    """A run. about: what it is; time_s: since it began, shape (n,); clock: what its times are written as."""

    about: str
    begins: datetime
    clock: ClockName
    time_s: Floats
    channels: tuple[Column, ...]
    time_name: str = TIME

    def clock_s(self) -> Floats:
        """Give its times as numbers, shape (n,): since it began, or GPS time. UTC is written as dates."""
        return self.time_s + since_epoch(self.begins, "gps") if self.clock == "gps" else self.time_s


def columns_of(
    about: str,
    times_s: Floats,
    tracks: Mapping[str, Track],
    detected: Mapping[str, Floats],
    recorder: Recorder,
    earth: Earth | None,
    number: int,
) -> Columns:
    """Give one run as columns. times_s: from the first sample on, shape (n,).

    tracks: as measured. detected: by trigger, 1 from its detection on, shape (n,). earth: where places are written on
    earth. number: of the run, from 1.
    """
    found: list[Column] = []
    for name, track in tracks.items():
        kinds = (*(OF_SITE if earth is None else OF_EARTH), *ALWAYS)
        first, second = (
            (track.x_m, track.y_m) if earth is None else earth.to_wgs84(track.x_m, track.y_m)
        )
        accel = np.full(len(times_s), math.nan) if track.accel_mps2 is None else track.accel_mps2
        values = (first, second, np.degrees(track.heading_rad), 3.6 * track.speed_mps, accel)
        for kind, column in zip(kinds, values, strict=True):
            found.append(Column(name, *kind, np.asarray(column)))
    found += [Column(name, *DETECTED, flags) for name, flags in detected.items()]
    begins = FIRST_RUN + (number - 1) * BETWEEN_RUNS
    return Columns(about, begins, recorder.clock, times_s, tuple(found))
