"""Shapes and onsets of a signal: how soon a level is reached, what is held after it, when something begins."""

from __future__ import annotations

import math

import numpy as np

from choreo.rules.evaluating import (
    ROUNDING,
    Judged,
    Outcome,
    Run,
    Sampled,
    crossing_s,
    judge_values,
    moment,
    unknown,
)
from choreo.rules.records import Band, Onset, Reference, Shape

_PLANNED = Reference("planned")


def judge_shape(rule: Shape, run: Run) -> tuple[Judged, ...]:
    """Hold a shape against a run: how long the level took (value and margin in s), then what is held after it.

    A planned level is the reference of the rule's signal; of a `mean` the level is also asked of the average from the
    allowed time to the end.
    """
    at, until = moment(rule.event, run), moment(rule.until, run)
    signal = run.signals.get((rule.role, rule.signal))
    if at is None or signal is None:
        name = rule.event.event if at is None else rule.signal
        return (unknown(rule.id, rule.source, f"`{name}` isn't known"),)
    level = _level(rule, run)
    if level is None:
        return (unknown(rule.id, rule.source, "the planned level isn't known"),)
    reached = _reached(signal, at, level)
    took = math.inf if reached is None else reached - at
    margin = rule.within_s - took
    first = Judged(
        f"{rule.id}/reached",
        "kept" if margin >= -ROUNDING else "broken",
        None if reached is None else took,
        reached,
        None if reached is None else margin,
        at,
        at + rule.within_s,
        rule.source,
        "" if reached is not None else "the level is never reached",
    )
    return (first, *_held(rule, run, signal, at, until))


def onset_s(onset: Onset, signal: Sampled) -> float | None:
    """Give when an onset is, in s: from the last sample beyond the level back to the **nearest** crossing of `back_to`.

    Without `back_to` it is the first crossing of the level. None where the level isn't passed at all; where the signal
    is beyond `back_to` from its beginning, that is the onset. The signal is given filtered as the rule asks.
    """
    sign = -1.0 if onset.level < 0 else 1.0
    values, times = sign * signal.values, signal.times_s
    level = abs(onset.level)
    if onset.back_to is None:
        beyond = np.flatnonzero(values >= level * (1.0 - ROUNDING))
        return None if not len(beyond) else crossing_s(times, values, int(beyond[0]), level)
    beyond = np.flatnonzero(values > level * (1.0 - ROUNDING))
    if not len(beyond):
        return None
    back = sign * onset.back_to
    before = np.flatnonzero(values[: int(beyond[-1]) + 1] < back)
    first = int(before[-1]) + 1 if len(before) else 0
    return crossing_s(times, values, first, back)


def _held(rule: Shape, run: Run, signal: Sampled, at: float, until: float | None) -> list[Judged]:
    """What holds after the level is reached."""
    found: list[Judged] = []
    starts = at + rule.within_s
    if until is None:
        return [unknown(f"{rule.id}/held", rule.source, f"`{rule.until.event}` isn't known")]
    if rule.mean and rule.level_lower is not None and rule.level_upper is not None:
        mean = _mean(signal, starts, until)
        margin = min(mean - rule.level_lower, rule.level_upper - mean)
        known = mean == mean
        outcome: Outcome = "kept" if margin >= -ROUNDING else "broken"
        found.append(
            Judged(
                f"{rule.id}/mean",
                outcome if known else "not decidable",
                mean if known else None,
                None,
                margin if known else None,
                starts,
                until,
                rule.source,
                "" if known else "samples are missing",
            )
        )
    if (rule.lower, rule.upper) != (None, None):
        reference = run.references.get((rule.role, rule.held))
        band = Band(
            f"{rule.id}/held",
            "",
            rule.role,
            rule.held,
            _PLANNED,
            rule.lower,
            rule.upper,
            None,
            rule.source,
        )
        held = run.signals.get((rule.role, rule.held))
        found.append(
            unknown(band.id, rule.source, f"`{rule.held}` or what is planned of it isn't known")
            if held is None or reference is None
            else judge_values(band, held.less(reference), run, (starts, until), 0.0)
        )
    return found


def _level(rule: Shape, run: Run) -> tuple[float, float] | None:
    """From where to where a value is the level; of a planned one everything from it on."""
    if rule.level_lower is not None or rule.level_upper is not None:
        low = -math.inf if rule.level_lower is None else rule.level_lower
        high = math.inf if rule.level_upper is None else rule.level_upper
        return low, high
    planned = run.references.get((rule.role, rule.signal))
    if not isinstance(planned, float):
        return None
    return (-math.inf, planned) if planned < 0 else (planned, math.inf)


def _reached(signal: Sampled, at: float, level: tuple[float, float]) -> float | None:
    """When a signal is first within a level from a moment on."""
    low, high = level
    now = signal.at(at)
    slack = ROUNDING * max(1.0, *(abs(one) for one in level if math.isfinite(one)))
    if low - slack <= now <= high + slack:
        return at
    after = signal.times_s > at
    times = np.concatenate([[at], signal.times_s[after]])
    values = np.concatenate([[now], signal.values[after]])
    inside = np.flatnonzero((values >= low - slack) & (values <= high + slack))
    if not len(inside):
        return None
    first = int(inside[0])
    return crossing_s(times, values, first, low if values[first - 1] < low else high)


def _mean(signal: Sampled, start: float, end: float) -> float:
    """The mean over time from start to end, of straight lines between samples; NaN where one isn't known."""
    if end <= start:
        return math.nan
    inside = (signal.times_s > start) & (signal.times_s < end)
    times = np.concatenate([[start], signal.times_s[inside], [end]])
    values = np.concatenate([[signal.at(start)], signal.values[inside], [signal.at(end)]])
    area = np.sum((values[1:] + values[:-1]) / 2 * np.diff(times))
    return float(area / (end - start))
