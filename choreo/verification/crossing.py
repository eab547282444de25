"""The true instant at which a watched mover's simulated motion reaches a trigger's setting."""

from __future__ import annotations

from collections.abc import Callable
from typing import assert_never

import numpy as np
from numpy.typing import NDArray

from choreo.verification.ahead import Ahead
from choreo.verification.integration import Motion, first_reached
from choreo.verification.tolerances import REACHED
from choreo.words.kinds import CONDITIONS, Condition

Array = NDArray[np.float64]


def crossing_s(
    motion: Motion,
    condition: Condition,
    setting: float,
    target_m: float | None,
    armed_s: float,
    until_s: float,
    ahead: Ahead | None = None,
) -> float:
    """Give the first time in s at which the condition is reached while armed, inf when never.

    setting: in m, s or m/s. target_m: station that distance and time to collision count down to.
    armed_s, until_s: times in s between which the trigger looks; a condition already met when it
    begins to look is reached there. ahead: the mover that a gap is measured to; a gap may fall to
    its setting or rise to it, as a speed may.
    """
    if not np.isfinite(armed_s):
        return np.inf
    if CONDITIONS[condition].by_clock:
        reached = max(setting, armed_s)
        return reached if reached <= until_s else np.inf
    if CONDITIONS[condition].to_encounter and target_m is None:
        return np.inf
    if CONDITIONS[condition].to_mover and ahead is None:
        return np.inf
    end = min(until_s, max(motion.end_s, armed_s))
    if ahead is not None and ahead.lap_m is not None:
        return _round_s(ahead, ahead.lap_m, setting, armed_s, end)
    excess = _excess(motion, condition, setting, target_m or 0.0, armed_s, ahead)
    if ahead is not None:
        times = ahead.clock_s(armed_s, end)
    else:
        nodes = motion.looks.times_s
        inner = nodes[(nodes > armed_s) & (nodes < end)]
        times = np.concatenate(([armed_s], inner, [end] if end > armed_s else []))
    values = excess(times)
    reached_at = np.flatnonzero(values >= -REACHED)
    if not len(reached_at):
        return np.inf
    first = int(reached_at[0])
    if first == 0 or values[first] <= REACHED:
        return float(times[first])
    return first_reached(excess, float(times[first - 1]), float(times[first]))


def _round_s(ahead: Ahead, lap_m: float, setting_m: float, armed_s: float, end_s: float) -> float:
    """The same for a gap on a closed path: to the next end ahead, so that a lap more or less is the same gap."""
    times = ahead.clock_s(armed_s, end_s)
    gaps = ahead.gap_m(times)
    over = (gaps[0] - setting_m) % lap_m
    if min(over, lap_m - over) <= REACHED:
        return float(times[0])
    fallen, risen = gaps <= gaps[0] - over, gaps >= gaps[0] - over + lap_m
    reached_at = np.flatnonzero(fallen | risen)
    if not len(reached_at):
        return np.inf
    first = int(reached_at[0])
    way = -1.0 if fallen[first] else 1.0

    def beyond(t_s: Array) -> Array:
        over_m = (ahead.gap_m(t_s) - setting_m + lap_m / 2) % lap_m - lap_m / 2
        return np.asarray(way * over_m)

    return first_reached(beyond, float(times[first - 1]), float(times[first]))


def _excess(
    motion: Motion,
    condition: Condition,
    setting: float,
    target_m: float,
    armed_s: float,
    ahead: Ahead | None,
) -> Callable[[Array], Array]:
    """A function of time that is zero where the setting is met and positive beyond it."""
    match condition:
        case "station":
            return lambda t: motion.stations(t) - setting
        case "distance":
            return lambda t: motion.stations(t) + setting - target_m
        case "time to collision":
            # distance <= setting * speed, so that standing still needs no division.
            return lambda t: _ahead_m(motion, t, setting) - target_m
        case "gap":
            if ahead is None:
                raise AssertionError("a gap is measured to another mover")
            widening = 1.0 if ahead.gap_m(np.array([armed_s]))[0] <= setting else -1.0
            return lambda t: widening * (ahead.gap_m(t) - setting)
        case "speed":
            rising = 1.0 if motion.state(armed_s)[1] <= setting else -1.0
            return lambda t: rising * (motion.at(t)[1] - setting)
        case "time":
            return lambda t: t - setting
        case _:
            assert_never(condition)


def _ahead_m(motion: Motion, t_s: Array, lasting_s: float) -> Array:
    """Stations in m to which the speeds at times t_s would lead within lasting_s, shape (n,)."""
    station, speed, _ = motion.at(t_s)
    return station + lasting_s * speed
