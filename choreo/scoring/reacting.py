"""A run in which the subject's own system acts: from then on it drives, and what it does is no error of the drive."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from choreo.scoring.run import RecordedRun, phases_of, spans_of


def left_to_its_drive(run: RecordedRun, mover: str, at_s: float) -> RecordedRun:
    """Take from a run what a mover's drive did until its own system acted, at_s after go: ramps that were over by then,
    holds up to then."""
    if mover not in run.movers:
        return run
    actor, speed = run.stage.actors[mover], run.movers[mover].track.speed_mps
    before = np.where(run.time_s <= at_s, speed, np.nan)
    held, fits = phases_of(run.stage, actor, run.time_s, before)
    ramps = {index: fit for index, fit in fits.items() if fit.ends_s <= at_s}
    run.performed.spans[mover] = {
        index: (np.minimum(begins, at_s), np.minimum(ends, at_s))
        for index, (begins, ends) in spans_of(run.stage, actor, ramps).items()
    }
    return replace(
        run,
        ramps={**run.ramps, mover: ramps},
        held_mps={**run.held_mps, mover: held},
        acted_s={**run.acted_s, mover: at_s},
    )
