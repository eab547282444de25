"""Stretches of recorded runs in which something is held: speeds over time, the way beside a path along it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from choreo.scoring.projecting import stations_of
from choreo.scoring.run import HELD_FROM, HELD_TO, RecordedRun
from choreo.words.records import dataclass

Floats = NDArray[np.float64]

# Every stretch is so many averages at even steps.
POINTS = 48
# A path is followed from this speed (m/s) on; a stretch is no shorter than this (s, m).
DRIVES_MPS, LEAST_S, LEAST_M = 0.5, 1.0, 5.0
# More of them tell no more, and cost memory: the first ones of a folder of many runs.
MOST_STRETCHES = 400


@dataclass(frozen=True, eq=False)
class Stretch:
    """Averages at even steps, shape (POINTS,); step: in s or m."""

    step: float
    values: Floats


def held_in(run: RecordedRun) -> dict[str, tuple[Stretch | None, Stretch | None]]:
    """Give of each mover its longest hold's speeds over time, and where it was beside its path along the way."""
    return {
        name: (_held(run, name), _beside(run, name))
        for name in run.movers
        if run.stage.actors[name].moves
    }


def _held(run: RecordedRun, name: str) -> Stretch | None:
    actor, one = run.stage.actors[name], run.movers[name]
    holds = []
    for step in actor.steps:
        if not step.changes_speed and step.to_mps > 0.0:
            begins, ends = (float(side[0]) for side in run.performed.spans[name][step.index])
            holds.append((ends - begins, begins))
    if not holds:
        return None
    lasting, begins = max(holds)
    return _even(
        run.time_s,
        one.track.speed_mps,
        begins + HELD_FROM * lasting,
        begins + HELD_TO * lasting,
        LEAST_S,
    )


def _beside(run: RecordedRun, name: str) -> Stretch | None:
    """Until its first encounter, after which nobody follows a path; of places as recorded, not averaged over time."""
    one, track = run.movers[name], run.recording.tracks[name]
    used = (
        (run.time_s <= run.driven_until(name))
        & (one.track.speed_mps > DRIVES_MPS)
        & np.isfinite(one.station_m)
    )
    if used.sum() < POINTS:
        return None
    stations = one.station_m[used]
    beside = stations_of(run.stage.actors[name].path, track.x_m[used], track.y_m[used])[1]
    return _even(stations, beside, float(stations.min()), float(stations.max()), LEAST_M)


def _even(at: Floats, values: Floats, first: float, last: float, least: float) -> Stretch | None:
    """Averages at even steps; None where the stretch is short or has a gap."""
    if last - first < least:
        return None
    edges = np.linspace(first, last, POINTS + 1)
    known = np.isfinite(values) & (at >= first) & (at < last)
    bins = np.clip(np.searchsorted(edges, at[known], side="right") - 1, 0, POINTS - 1)
    count = np.bincount(bins, minlength=POINTS)
    if not count.all():
        return None
    means = np.bincount(bins, weights=values[known], minlength=POINTS) / count
    return Stretch((last - first) / POINTS, means)
