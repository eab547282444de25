"""How like two curves over time are: corridor, phase, magnitude and slope, after ISO/TS 18571.

The constants of ISO/TS 18571 are second-hand; its text was not read. Of ways of laying one curve along the other that
are equally good the one of most steps is taken. The rating forgives a pure delay of 0.1 s, which a choreography can't:
it compares how a mover drives, never when.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from choreo.scoring.run import RecordedRun
from choreo.track.motion import motion_of
from choreo.words.records import dataclass

Floats = NDArray[np.float64]

# Shares of the reference's peak: inside the inner corridor a curve is as good as it, outside the outer one nothing.
INNER, OUTER = 0.05, 0.50
# A shift of this share of the length, relative errors of size and slope of these sizes are nothing any more.
SHIFT, SIZE_OFF, SLOPE_OFF = 0.2, 0.5, 2.0
# One curve is laid along the other within this share of the length; slopes are averaged over so many samples.
WARP, SMOOTHED = 0.1, 9
# Weights of corridor, phase, magnitude and slope.
WEIGHTS = (0.4, 0.2, 0.2, 0.2)
GRADES = ((0.94, "excellent"), (0.80, "good"), (0.58, "fair"))
# Longer curves are compared at so many even samples: laying one along the other takes the square of them.
MOST = 400


@dataclass(frozen=True, slots=True)
class Likeness:
    """Shares of 1: 1 is the same. whole: the four together. late_s: by how much it is late, as its phase has it."""

    whole: float
    grade: str
    corridor: float
    phase: float
    magnitude: float
    slope: float
    late_s: float


def likeness(curve: Floats, reference: Floats, step_s: float) -> Likeness | None:
    """Compare a curve with a reference, shape (n,) at even steps; None: the reference is zero, or there are too few."""
    peak = float(np.abs(reference).max(initial=0.0))
    if peak == 0.0 or len(reference) < 2 * SMOOTHED:
        return None
    off = np.abs(curve - reference) / peak
    corridor = float((np.clip((OUTER - off) / (OUTER - INNER), 0.0, 1.0) ** 2).mean())
    late = _late(curve, reference)
    phase = 1.0 - abs(late) / (SHIFT * len(reference))
    a, b = _shifted(curve, reference, late)
    ways = _laid(a, b)
    magnitude = _share(a[ways[:, 0]], b[ways[:, 1]], SIZE_OFF)
    slope = _share(_slopes(a, step_s), _slopes(b, step_s), SLOPE_OFF)
    parts = (corridor, max(phase, 0.0), magnitude, slope)
    whole = sum(weight * one for weight, one in zip(WEIGHTS, parts, strict=True))
    grade = next((name for least, name in GRADES if whole > least), "poor")
    return Likeness(whole, grade, *parts, late * step_s)


def speeds_alike(run: RecordedRun) -> dict[str, Likeness]:
    """Compare how each mover drove with its plan, from go until its first encounter by plan, or the plan's end.

    Of one whose own system acts, until that.
    """
    found = {}
    for name, one in run.movers.items():
        motion = motion_of(run.stage.plan.movers[name])
        met = [e.time_s for e in run.stage.plan.encounters.values() if name in e.pair]
        until = min(*met, motion.end_s, float(run.time_s[-1])) if met else motion.end_s
        until = min(until, run.acted_s.get(name, until))
        known = np.isfinite(one.track.speed_mps)
        if not motion.moves or until <= 0.0 or known.sum() < 2:
            continue
        count = min(MOST, int(until * run.recording.rate_hz))
        times = np.linspace(0.0, min(until, float(run.time_s[-1])), max(count, 2))
        recorded = np.interp(times, run.time_s[known], one.track.speed_mps[known])
        alike = likeness(recorded, motion.states(times)[1], float(times[1] - times[0]))
        if alike is not None:
            found[name] = alike
    return found


def _late(curve: Floats, reference: Floats) -> int:
    """By how many samples a curve is late, where it correlates best; the least of equal ones."""
    most, best, found = int(SHIFT * len(reference)), -math.inf, 0
    for late in sorted(range(-most, most + 1), key=abs):
        a, b = _shifted(curve, reference, late)
        size = math.sqrt(float(a @ a) * float(b @ b))
        together = float(a @ b) / size if size > 0.0 else -math.inf
        if together > best + 1e-12:
            best, found = together, late
    return found


def _shifted(curve: Floats, reference: Floats, late: int) -> tuple[Floats, Floats]:
    """Both where they overlap once a curve that is late is moved forward."""
    left = len(reference) - abs(late)
    return (curve[late:], reference[:left]) if late >= 0 else (curve[:left], reference[-late:])


def _laid(a: Floats, b: Floats) -> NDArray[np.int64]:
    """Lay one curve along the other by dynamic time warping: pairs of indices, shape (steps, 2)."""
    n, reach = len(a), max(math.ceil(WARP * len(a)), 1)
    cost = np.full((n + 1, n + 1), np.inf)
    cost[0, 0] = 0.0
    # Of a diagonal from lower left to upper right no member needs another.
    for total in range(2, 2 * n + 1):
        i = np.arange(max(1, total - n, (total - reach + 1) // 2), min(n, (total + reach) // 2) + 1)
        i = i[i < total]
        j = total - i
        before = np.minimum(cost[i - 1, j - 1], np.minimum(cost[i - 1, j], cost[i, j - 1]))
        cost[i, j] = (a[i - 1] - b[j - 1]) ** 2 + before
    at, on, steps = n, n, []
    slack = 1e-9 * max(float(cost[n, n]), 1e-12)
    while at > 0 and on > 0:
        steps.append((at - 1, on - 1))
        least = min(cost[at - 1, on], cost[at, on - 1], cost[at - 1, on - 1]) + slack
        if cost[at - 1, on] <= least:
            at -= 1
        elif cost[at, on - 1] <= least:
            on -= 1
        else:
            at, on = at - 1, on - 1
    return np.array(steps[::-1])


def _slopes(values: Floats, step_s: float) -> Floats:
    """Smoothed over SMOOTHED samples, over fewer at the ends."""
    slope = np.concatenate(([0.0], np.cumsum(np.gradient(values, step_s))))
    at, half = np.arange(len(values)), SMOOTHED // 2
    first, last = np.maximum(at - half, 0), np.minimum(at + half + 1, len(values))
    return np.asarray((slope[last] - slope[first]) / (last - first))


def _share(values: Floats, reference: Floats, nothing: float) -> float:
    """What is left of 1 when the relative error is taken off, as a share of one that is nothing any more."""
    size = float(np.abs(reference).sum())
    if size == 0.0:
        return 1.0 if not np.abs(values).any() else 0.0
    return max(1.0 - float(np.abs(values - reference).sum()) / size / nothing, 0.0)
