"""When a ramp really began, how long it took and how hard it was: the planned course of its speed laid into the record.

A drive that is late, or achieves less than planned, drives the same course later and stretched. Every sample in the
middle of the ramp says at which moment of the planned course it is; a straight line through these pairs gives the start
(at the course's own beginning, so that a slow build-up is no delay) and the stretch.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from choreo.errors.actors import Step
from choreo.motion.cubic import gained
from choreo.words.records import dataclass

Floats = NDArray[np.float64]

# Between which shares of a ramp its samples count: its ends are flat, and noise would decide.
FROM_SHARE, TO_SHARE = 0.15, 0.85
# A sample below this share, or as near to the end, is no longer of the ramp.
OUTSIDE_SHARE = 0.05
# Fewer samples say nothing of a start.
LEAST_SAMPLES = 4
# A ramp is looked for up to this long (s) before and after it is expected.
SEARCHED_S = 5.0
# Points of a planned course.
POINTS = 400


@dataclass(frozen=True, slots=True)
class RampFit:
    """A ramp as recorded: from when (s) to when, and the share of its planned rate that it achieved.

    start_u_s: the standard uncertainty of the start, as its samples scatter.
    """

    phase: str
    starts_s: float
    ends_s: float
    achieved_ratio: float
    start_u_s: float


def course_of(step: Step) -> tuple[Floats, Floats]:
    """Give the planned course of a ramp: times from its beginning in s, the share of its change of speed; (POINTS,)."""
    ends = np.cumsum(step.durations_s)
    begins = ends - step.durations_s
    times = np.linspace(0.0, float(ends[-1]), POINTS)
    piece = np.clip(np.searchsorted(ends, times, side="left"), 0, len(ends) - 1)
    steps = gained(step.durations_s, step.accels_mps2, step.jerks_mps3)
    before = np.concatenate(([0.0], np.cumsum(steps)))[piece]
    gain = before + gained(times - begins[piece], step.accels_mps2[piece], step.jerks_mps3[piece])
    return times, np.asarray(gain / (step.to_mps - step.from_mps))


def middle_s(time_s: Floats, share: Floats, expected_s: float | None) -> float | None:
    """Give when a share, shape (n,), rises through a half: nearest to what is expected, or first; None where never."""
    rises = np.flatnonzero((share[:-1] < 0.5) & (share[1:] >= 0.5))
    if not len(rises):
        return None
    part = (0.5 - share[rises]) / (share[rises + 1] - share[rises])
    times = time_s[rises] + part * (time_s[rises + 1] - time_s[rises])
    if expected_s is None:
        return float(times[0])
    nearest = float(times[np.argmin(np.abs(times - expected_s))])
    return nearest if abs(nearest - expected_s) <= SEARCHED_S else None


def fit_ramp(
    step: Step,
    time_s: Floats,
    speed_mps: Floats,
    held_mps: tuple[float, float],
    expected_s: float | None,
) -> RampFit | None:
    """Lay a planned ramp into recorded speeds, both of shape (n,); None where there is none like it.

    held_mps: the speeds before and after it as recorded. expected_s: when it should begin; None: the first like it.
    """
    change = held_mps[1] - held_mps[0]
    if not step.changes_speed or step.from_mps == step.to_mps or abs(change) < 1e-3:
        return None
    planned_s, planned = course_of(step)
    if np.any(np.diff(planned) < -1e-9):
        return None
    share = (speed_mps - held_mps[0]) / change
    half_s = float(np.interp(0.5, planned, planned_s))
    middle = middle_s(time_s, share, None if expected_s is None else expected_s + half_s)
    if middle is None:
        return None
    near = (time_s > middle - 2.0 * half_s - 0.1) & (
        time_s < middle + 2.0 * (step.planned_s - half_s) + 0.1
    )
    # What comes before and after it, another ramp above all, passes the same speeds.
    before = time_s[(time_s < middle) & (share < OUTSIDE_SHARE)]
    after = time_s[(time_s > middle) & (share > 1.0 - OUTSIDE_SHARE)]
    near &= time_s > (before[-1] if len(before) else -np.inf)
    near &= time_s < (after[0] if len(after) else np.inf)
    used = near & (share > FROM_SHARE) & (share < TO_SHARE)
    if used.sum() < LEAST_SAMPLES:
        return None
    rising = np.concatenate(([True], np.diff(planned) > 0.0))
    into = np.interp(share[used], planned[rising], planned_s[rising])
    times = time_s[used]
    spread = float(((into - into.mean()) ** 2).sum())
    if spread <= 0.0:
        return None
    stretch = float(((into - into.mean()) * (times - times.mean())).sum() / spread)
    if stretch <= 0.0:
        return None
    start = float(times.mean() - stretch * into.mean())
    rest = times - start - stretch * into
    free = max(len(times) - 2, 1)
    scatter = float((rest**2).sum() / free)
    start_u = (scatter * (1.0 / len(times) + float(into.mean()) ** 2 / spread)) ** 0.5
    ratio = change / ((step.to_mps - step.from_mps) * stretch)
    return RampFit(step.name, start, start + stretch * step.planned_s, ratio, start_u)
