"""How hard runs accelerate and brake over speed, and how long either builds up.

A ramp as recorded is cut where its planned course has passed each speed, later and stretched as its fit says: cuts by
time, so that noise of single speeds decides nothing. In each part the rate is the slope of the line of least squares,
and so is the planned one. A build-up is the time in which the rate grows in a straight line from nothing to what is
then held, with its speed before, its beginning and its rate fitted together.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from choreo.errors.actors import Step
from choreo.scoring.estimators import Estimate, estimate
from choreo.scoring.ramps import RampFit, course_of
from choreo.scoring.run import RecordedRun
from choreo.words.records import dataclass

Floats = NDArray[np.float64]
Way = Literal["acceleration", "braking"]

# Parts of a ramp are so wide, the narrowest (km/h) that leaves no more than MOST_PARTS.
WIDTHS_KMH, MOST_PARTS = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0), 8
# A part or a build-up with fewer samples says nothing.
LEAST_SAMPLES = 5
# Speeds are looked at from so long (s) before a ramp; of the constant rate after a build-up this share is used.
BEFORE_S, CONSTANT = 0.5, 0.8
# A build-up shorter than this (s) is none; a constant rate as short says nothing of what led to it.
NONE_S, LEAST_CONSTANT_S = 1e-6, 0.2


@dataclass(frozen=True, slots=True)
class Rate:
    """How hard a mover accelerates or brakes between two speeds, SI, as magnitudes. found: over the runs."""

    owner: str
    way: Way
    from_mps: float
    to_mps: float
    planned_mps2: float
    found: Estimate


@dataclass(frozen=True, slots=True)
class BuildUp:
    """In how many seconds a mover's rate builds up, by plan and over the runs; jerk_mps3: the held rate over it.

    None where it is no longer than it is known.
    """

    owner: str
    way: Way
    planned_s: float
    found: Estimate
    jerk_mps3: Estimate | None


@dataclass(frozen=True, slots=True)
class Part:
    """A ramp between two speeds (m/s): planned and recorded rate (m/s2), magnitudes."""

    from_mps: float
    to_mps: float
    planned: float
    recorded: float


class Driven:
    """Ramps of one run after the other, for what all of them show."""

    def __init__(self) -> None:
        self._parts: dict[tuple[str, Way, float, float], list[Part]] = {}
        self._builds: dict[tuple[str, Way], list[tuple[float, float, float, float]]] = {}

    def take(self, run: RecordedRun) -> None:
        """Keep what one run shows; the run itself isn't kept."""
        for name, one in run.movers.items():
            known = np.isfinite(one.track.speed_mps)
            times, speeds = run.time_s[known], one.track.speed_mps[known]
            parts: dict[tuple[Way, float, float], list[Part]] = {}
            for step in run.stage.actors[name].steps:
                fit = run.ramps[name].get(step.index)
                if fit is None or not step.changes_speed:
                    continue
                way: Way = "acceleration" if step.to_mps > step.from_mps else "braking"
                for part in parts_of(step, fit, times, speeds):
                    parts.setdefault((way, part.from_mps, part.to_mps), []).append(part)
                built = build_up_of(step, fit, times, speeds)
                if built is not None:
                    self._builds.setdefault((name, way), []).append(built)
            for (way, low, high), those in parts.items():
                planned, recorded = (
                    float(np.mean([getattr(part, what) for part in those]))
                    for what in ("planned", "recorded")
                )
                mean = Part(low, high, planned, recorded)
                self._parts.setdefault((name, way, low, high), []).append(mean)

    def rates(self) -> list[Rate]:
        """Give each mover's rates, by rising speed, accelerations first."""
        found = []
        for (owner, way, low, high), those in self._parts.items():
            planned = float(np.mean([one.planned for one in those]))
            found.append(
                Rate(owner, way, low, high, planned, estimate([one.recorded for one in those]))
            )
        owners = list(dict.fromkeys(one.owner for one in found))
        return sorted(found, key=lambda one: (owners.index(one.owner), one.way, one.from_mps))

    def build_ups(self) -> list[BuildUp]:
        """Give how long each mover's accelerating and braking builds up."""
        found = []
        for (owner, way), those in self._builds.items():
            planned, lasting, rate, u = (np.array(one) for one in zip(*those, strict=True))
            clear = bool((lasting > 3.0 * u).all())
            jerk = estimate(list(rate / np.maximum(lasting, NONE_S))) if clear else None
            found.append(BuildUp(owner, way, float(planned.mean()), estimate(list(lasting)), jerk))
        return found


def edges_of(low_mps: float, high_mps: float) -> Floats:
    """Give the speeds (m/s) at which a ramp between two is cut: its ends, and round ones in km/h between them."""
    low, high = 3.6 * low_mps, 3.6 * high_mps
    width = next((one for one in WIDTHS_KMH if (high - low) / one <= MOST_PARTS), WIDTHS_KMH[-1])
    inner = np.arange(np.ceil(low / width), np.floor(high / width) + 1.0) * width
    # No part is narrower than half of the others.
    inner = inner[(inner > low + 0.5 * width) & (inner < high - 0.5 * width)]
    return np.concatenate(([low], inner, [high])) / 3.6


def parts_of(step: Step, fit: RampFit, times: Floats, speeds: Floats) -> Iterator[Part]:
    """Cut a ramp at round speeds; times, speeds: of all samples whose speed is known, shape (n,)."""
    planned_s, share = course_of(step)
    change = step.to_mps - step.from_mps
    if np.any(np.diff(share) < -1e-9):
        return
    stretch = (fit.ends_s - fit.starts_s) / step.planned_s
    edges = edges_of(min(step.from_mps, step.to_mps), max(step.from_mps, step.to_mps))
    shares = (edges - step.from_mps) / change
    rising = np.concatenate(([True], np.diff(share) > 0.0))
    at = np.interp(shares, share[rising], planned_s[rising])
    for number in range(len(edges) - 1):
        first, last = sorted((at[number], at[number + 1]))
        inside = (times >= fit.starts_s + stretch * first) & (
            times <= fit.starts_s + stretch * last
        )
        if inside.sum() < LEAST_SAMPLES:
            continue
        moments = np.linspace(first, last, 50)
        planned = step.from_mps + change * np.interp(moments, planned_s, share)
        recorded = abs(_slope(times[inside], speeds[inside]))
        yield Part(
            float(edges[number]), float(edges[number + 1]), abs(_slope(moments, planned)), recorded
        )


def _slope(times: Floats, values: Floats) -> float:
    """Of the line of least squares."""
    off = times - times.mean()
    return float(off @ values / (off @ off))


def build_up_of(
    step: Step, fit: RampFit, times: Floats, speeds: Floats
) -> tuple[float, float, float, float] | None:
    """Give a ramp's build-up by plan and as recorded in s, the rate held after it in m/s2, and how sure it is in s.

    None: there is no constant rate after it, or too few samples. times, speeds: as of `parts_of`.
    """
    grows = len(step.jerks_mps3) > 1 and step.jerks_mps3[0] != 0.0 and step.accels_mps2[0] == 0.0
    planned_s = float(step.durations_s[0]) if grows else 0.0
    held = int(grows)
    if step.jerks_mps3[held] != 0.0 or step.durations_s[held] < LEAST_CONSTANT_S:
        return None
    stretch = (fit.ends_s - fit.starts_s) / step.planned_s
    ends = fit.starts_s + stretch * (planned_s + CONSTANT * float(step.durations_s[held]))
    inside = (times > fit.starts_s - BEFORE_S) & (times < ends)
    if inside.sum() < LEAST_SAMPLES:
        return None
    at, seen = times[inside], speeds[inside]
    rate = float(step.accels_mps2[held]) / stretch

    def off(guess: Floats) -> Floats:
        before, slope, begins, lasting = guess
        into = np.maximum(at - begins, 0.0)
        lasting = max(float(lasting), NONE_S)
        grown = np.where(into < lasting, into**2 / (2.0 * lasting), into - lasting / 2.0)
        return np.asarray(before + slope * grown - seen)

    guess = np.array([step.from_mps, rate, fit.starts_s, max(stretch * planned_s, 0.05)])
    most = max(ends - fit.starts_s, 2.0 * float(guess[3]))
    bounds = ([-np.inf, -np.inf, -np.inf, 0.0], [np.inf, np.inf, np.inf, most])
    found = least_squares(off, guess, bounds=bounds, x_scale=[1.0, 1.0, 0.1, 0.1])
    free = max(len(at) - 4, 1)
    covariance = np.linalg.pinv(found.jac.T @ found.jac) * 2.0 * found.cost / free
    return planned_s, float(found.x[3]), abs(float(found.x[1])), float(np.sqrt(covariance[3, 3]))
