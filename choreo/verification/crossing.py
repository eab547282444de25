"""The true instant at which a watched mover's simulated motion reaches a trigger's setting."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from choreo.verification.integrate import Motion, first_true
from choreo.verification.tolerances import REACHED

Array = NDArray[np.float64]


def crossing_s(
    motion: Motion,
    condition: str,
    setting: float,
    target_m: float | None,
    armed_s: float,
    until_s: float,
) -> float:
    """Give the first time in s at which the condition is reached while armed, inf when never.

    condition: station, distance, time to collision, speed or time. setting: in m, s or m/s.
    target_m: station that distance and time to collision count down to. armed_s, until_s: times
    in s between which the trigger looks; a condition already met when it begins to look is
    reached there.
    """
    if not np.isfinite(armed_s):
        return np.inf
    if condition == "time":
        reached = max(setting, armed_s)
        return reached if reached <= until_s else np.inf
    excess = _excess(motion, condition, setting, target_m, armed_s)
    if excess is None:
        return np.inf
    end = min(until_s, max(motion.end_s, armed_s))
    inner = motion.times_s[(motion.times_s > armed_s) & (motion.times_s < end)]
    times = np.concatenate(([armed_s], inner, [end] if end > armed_s else []))
    values = excess(times)
    reached_at = np.flatnonzero(values >= -REACHED)
    if not len(reached_at):
        return np.inf
    first = int(reached_at[0])
    if first == 0 or values[first] <= REACHED:
        return float(times[first])
    return first_true(lambda t: excess(t) >= 0.0, float(times[first - 1]), float(times[first]))


def _excess(
    motion: Motion, condition: str, setting: float, target_m: float | None, armed_s: float
) -> Callable[[Array], Array] | None:
    """A function of time that is zero where the setting is met and positive beyond it."""
    if condition == "station":
        return lambda t: motion.at(t)[0] - setting
    if condition == "speed":
        rising = 1.0 if motion.state(armed_s)[1] <= setting else -1.0
        return lambda t: rising * (motion.at(t)[1] - setting)
    if target_m is None:
        return None
    target = target_m
    if condition == "distance":
        return lambda t: motion.at(t)[0] + setting - target

    def ahead_of_time(t: Array) -> Array:
        # distance <= setting * speed, so that standing still needs no division.
        station, speed, _ = motion.at(t)
        return station + setting * speed - target

    return ahead_of_time
