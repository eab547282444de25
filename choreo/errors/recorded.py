"""One run with errors as a measuring system would see it: true poses on a clock, when triggers saw their setting."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from choreo.errors.execution import Performed
from choreo.errors.motions import NEVER_S
from choreo.errors.stage import Stage
from choreo.errors.traces import trace_of
from choreo.recordings.record import Track

Floats = NDArray[np.float64]

# Recording begins so long (s) before go, and goes on so long after the last one has come to rest.
BEFORE_S = 2.0
AFTER_S = 1.0
# An acceleration is the speed's change over this long (s), half of it to each side.
CHANGE_S = 2e-3


def clock_of(stage: Stage, performed: Performed, run: int, rate_hz: float) -> Floats:
    """Give the instants of recording in one run, in s after go, shape (n,)."""
    ends = [float(motion.end_s[run]) for motion in performed.motions.values()]
    end_s = max([one for one in ends if one < NEVER_S / 2], default=0.0)
    planned = [one.pieces[-1] for one in stage.plan.movers.values() if one.pieces]
    end_s = max([end_s, *(one.start_s + one.duration_s for one in planned)])
    count = round((BEFORE_S + end_s + AFTER_S) * rate_hz)
    return np.asarray(-BEFORE_S + np.arange(count + 1) / rate_hz)


def tracks_of(stage: Stage, performed: Performed, run: int, times_s: Floats) -> dict[str, Track]:
    """Give every mover's true motion in one run at times in s after go, shape (n,)."""
    rows = np.full(len(times_s), run)
    found = {}
    half = CHANGE_S / 2.0
    for name in stage.actors:
        motion, trace = performed.motions[name], trace_of(stage, performed, name, run, times_s)
        later, sooner = (
            motion.states(times_s + half, rows)[1],
            motion.states(times_s - half, rows)[1],
        )
        found[name] = Track(
            trace.x_m,
            trace.y_m,
            np.unwrap(trace.heading_rad),
            trace.speed_mps,
            np.asarray((later - sooner) / CHANGE_S),
        )
    return found


def detected_of(stage: Stage, performed: Performed, run: int) -> dict[str, float]:
    """Give when each trigger saw its setting in one run, in s after go: before its latency; never is NEVER_S."""
    found = {}
    for name, trigger in stage.scenario.triggers.items():
        drawn = performed.draws.of("latency", name)
        late_s = max(trigger.latency_s + (0.0 if drawn is None else float(drawn[run])), 0.0)
        acts_s = float(performed.acts_s[name][run])
        found[name] = acts_s - late_s if acts_s < NEVER_S / 2 else NEVER_S
    return found
