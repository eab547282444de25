"""Drawn runs as everybody would record them: each mover's pose and speed over time.

    for performed in performed_runs(stage, sources, 100, 1):
        for run in range(performed.draws.runs):
            trace = trace_of(stage, performed, "subject", run, times_s)

`stage_of` sets up a feasible plan, `sources_of` gives what may be off; the same seed gives the same runs as
`choreo stress` tells of, run number `performed.draws.first + run + 1` of its table.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from choreo.errors.drawing import draw
from choreo.errors.draws import CHUNK
from choreo.errors.execution import Performed, perform
from choreo.errors.stage import Stage
from choreo.scenario import ErrorSource

Floats = NDArray[np.float64]


class Trace(NamedTuple):
    """One mover in one run at times, each of shape (times,), site frame, SI.

    station_m: along its path, left_m: beside it. x_m, y_m: of its reference point; heading_rad: of its body, ISO 8855.
    measured_m: the station that it measures itself, off by its position error.
    """

    time_s: Floats
    station_m: Floats
    left_m: Floats
    x_m: Floats
    y_m: Floats
    heading_rad: Floats
    speed_mps: Floats
    measured_m: Floats


def performed_runs(
    stage: Stage,
    sources: tuple[ErrorSource, ...],
    runs: int,
    seed: int,
    *,
    quasi: bool = False,
) -> Iterator[Performed]:
    """Give as many runs as asked, performed chunk by chunk in the order in which they are drawn."""
    for first in range(0, runs, CHUNK):
        count = min(CHUNK, runs - first)
        yield perform(stage, draw(sources, count, seed, quasi=quasi, first=first))


def trace_of(stage: Stage, performed: Performed, mover: str, run: int, time_s: Floats) -> Trace:
    """Give a mover's course in one of the runs performed (counted from 0) at times in s after go, shape (times,).

    It goes by what the run would be if bodies passed through each other and nobody's system reacted. One that only
    stands is where it stands in that run. Raises IndexError: no such run; KeyError: no such mover.
    """
    motion, shape = performed.motions[mover], stage.actors[mover].shape
    if not 0 <= run < motion.runs:
        raise IndexError(f"run {run} of {motion.runs}")
    rows = np.full(time_s.shape, run)
    station, speed = motion.states(time_s, rows)
    left = motion.sideways.at(station, rows)
    placed = shape.place(station, left)
    way_rad = np.arctan2(placed.sin, placed.cos) + np.zeros(time_s.shape)
    heading = way_rad + stage.actors[mover].mover.body.points_rad
    measured = station + motion.position_m[run]
    return Trace(time_s, station, left, placed.x_m, placed.y_m, heading, speed, measured)
