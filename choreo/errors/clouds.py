"""Where everybody is at each encounter, in some of many runs: for pictures."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from choreo.errors.drawing import draw
from choreo.errors.execution import perform
from choreo.errors.meetings import Met
from choreo.errors.motions import RunMotion
from choreo.errors.shapes import Shape
from choreo.errors.stage import Stage
from choreo.plans.errors_record import Cloud
from choreo.scenario import ErrorSource

# So many outlines over each other still show where they lie densely.
SHOWN_RUNS = 120


def clouds_of(
    stage: Stage, sources: tuple[ErrorSource, ...], seed: int, *, runs: int = SHOWN_RUNS
) -> tuple[Cloud, ...]:
    """Give both movers' poses at every encounter, in the first so many runs of a seed that meet it."""
    performed = perform(stage, draw(sources, runs, seed))
    clouds = []
    for name, encounter in stage.scenario.encounters.items():
        met, pair = performed.met[name], (encounter.of, encounter.with_)
        of, with_ = (
            tuple(_poses(stage.actors[who].shape, performed.motions[who], met)) for who in pair
        )
        clouds.append(Cloud(name, *pair, of, with_))
    return tuple(clouds)


def _poses(shape: Shape, motion: RunMotion, met: Met) -> Iterator[tuple[float, float, float]]:
    rows = np.flatnonzero(met.met)
    station, _ = motion.states(met.time_s[rows], rows)
    placed = shape.place(station, motion.sideways.at(station, rows))
    heading = np.broadcast_to(np.arctan2(placed.sin, placed.cos), station.shape)
    yield from zip(placed.x_m.tolist(), placed.y_m.tolist(), heading.tolist(), strict=True)
