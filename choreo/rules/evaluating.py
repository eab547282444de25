"""Rules held against signals over time: worst value, when, and by how much it keeps or misses the bound.

No recording format is known here; whoever has one gives arrays. What holds:

- Between two samples a signal is the straight line between them. So the worst value of a window is at a sample in it or
  at one of its ends, which are interpolated; both ends belong to the window.
- A bound is kept by a value exactly on it. What differs from it by rounding alone (ROUNDING) is on it.
- NaN is a sample that isn't known. A window with one in it, with a gap longer than `most_gap_s`, or that reaches beyond
  the samples, is *broken* where what is known breaks it, and else *not decidable*: never kept.
- A standard uncertainty u makes what is nearer to its bound than 1.65 u not decidable: a guard band on both sides, 95 %
  one-sided (JCGM 106:2012, from memory).

This is the one judge of bounds: recorded runs are ruled by it whoever asks.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from choreo.rules.events import told_event
from choreo.rules.records import (
    Band,
    BetweenRuns,
    Condition,
    EventName,
    EventRef,
    Instant,
    Role,
    Settle,
    Signal,
    Source,
    Window,
)
from choreo.words.records import dataclass

Floats = NDArray[np.float64]
Outcome = Literal["kept", "broken", "not decidable"]
# A value counts as on a bound when it is off it by no more than this share of it (or of 1, if that is more).
ROUNDING = 1e-9
# Width of the guard band, in standard uncertainties.
GUARD = 1.65
UNSURE = "it is nearer to its bound than it is known"


@dataclass(frozen=True, eq=False)
class Sampled:
    """One signal: times_s, shape (n,), rising; values in SI, shape (n,); NaN where unknown."""

    times_s: Floats
    values: Floats

    def at(self, time_s: float) -> float:
        """Give the value at a moment; NaN outside the samples, and beside an unknown one."""
        if not len(self.times_s) or not self.times_s[0] <= time_s <= self.times_s[-1]:
            return math.nan
        after = int(np.searchsorted(self.times_s, time_s))
        if self.times_s[after] == time_s:
            return float(self.values[after])
        return float(
            np.interp(
                time_s, self.times_s[after - 1 : after + 1], self.values[after - 1 : after + 1]
            )
        )

    def less(self, reference: Sampled | float) -> Sampled:
        """Give the signal counted from a reference, at its own samples."""
        if not isinstance(reference, Sampled):
            return Sampled(self.times_s, self.values - reference)
        inside = (self.times_s >= reference.times_s[0]) & (self.times_s <= reference.times_s[-1])
        there = np.interp(self.times_s, reference.times_s, reference.values)
        return Sampled(self.times_s, self.values - np.where(inside, there, np.nan))


@dataclass(frozen=True)
class Run:
    """What is known of a run.

    signals: by role and name. references: what their bounds count from where that is `planned`, a profile or a path
    (without one it is zero: a deviation is given as such). events: when they happened, in s; those that didn't, or
    aren't known, are left out. closing_mps: the planned closing speed, for a nominal headway. most_gap_s: samples
    farther apart leave a gap. ends_s: when the test is over; no window goes on after that.
    """

    signals: Mapping[tuple[Role, Signal], Sampled]
    events: Mapping[EventName, float]
    references: Mapping[tuple[Role, Signal], Sampled | float] = field(default_factory=dict)
    t0: EventRef | None = None
    closing_mps: float | None = None
    most_gap_s: float = math.inf
    ends_s: float | None = None


@dataclass(frozen=True, slots=True)
class Judged:
    """One rule held against one run.

    value: the worst one, counted from the rule's reference, at time_s; margin: how far inside the bound it is, negative
    outside; None where nothing is known. from_s, until_s: the window. why: of what can't be decided.
    """

    rule: str
    outcome: Outcome
    value: float | None
    time_s: float | None
    margin: float | None
    from_s: float | None
    until_s: float | None
    source: Source
    why: str = ""


def moment(event: EventRef, run: Run) -> float | None:
    """Give when an event of a rule is in a run, in s; None where it didn't happen or isn't known."""
    at: float | None
    if event.event == "T0" and "T0" not in run.events:
        at = None if run.t0 is None or run.t0.event == "T0" else moment(run.t0, run)
    elif event.value_s is not None:
        at = _left(event, run)
    else:
        at = run.events.get(event.event)
    return None if at is None else at + event.offset_s


def named_moment(event: EventRef, run: Run) -> str:
    """Give a moment's name for messages; of T0 what that is: `T0` (0.5 s after target steady)."""
    if event.event == "T0" and run.t0 is not None:
        return f"`T0` ({told_event(run.t0)})"
    return f"`{event.event}`"


def window_of(window: Window, run: Run) -> tuple[float, float] | None:
    """Give a window's start and the first of its ends after that, in s; without any, the end of the samples."""
    start = moment(window.starts, run)
    if start is None:
        return None
    ends = [one for one in (moment(end, run) for end in window.ends) if one is not None]
    if run.ends_s is not None:
        ends.append(run.ends_s)
    after = [one for one in ends if one >= start]
    last = max(
        (float(one.times_s[-1]) for one in run.signals.values() if len(one.times_s)), default=start
    )
    return start, min(after, default=max(last, start))


def judge_band(band: Band, window: Window, run: Run, uncertainty: float = 0.0) -> Judged:
    """Hold a band against a run. uncertainty: standard, of the signal, in its unit."""
    span = window_of(window, run)
    if span is None:
        return unknown(band.id, band.source, f"{named_moment(window.starts, run)} isn't known")
    return _over(band, run, *span, uncertainty)


def judge_instant(rule: Instant, run: Run, uncertainty: float = 0.0) -> Judged:
    """Hold an instant's bound against a run."""
    at = moment(rule.event, run)
    signal, reference = run.signals.get((rule.role, rule.signal)), _reference(rule, run)
    if at is None or signal is None:
        name = named_moment(rule.event, run) if at is None else f"`{rule.signal}`"
        return unknown(rule.id, rule.source, f"{name} isn't known")
    if reference is None:
        return unknown(rule.id, rule.source, f"the planned {rule.signal} isn't known")
    value = signal.less(reference).at(at)
    why = "" if value == value else "there is no sample then"
    return _judged(rule, np.array([value]), np.array([at]), (at, at), uncertainty, why)


def judge_value(rule: BetweenRuns | Condition, value: float, uncertainty: float = 0.0) -> Judged:
    """Hold one number, measured of the day, the track or between runs, against its bounds; NaN: it isn't known."""
    if math.isnan(value):
        return unknown(rule.id, rule.source, f"`{rule.quantity}` isn't known")
    margin = margin_of(value, rule.lower, rule.upper)
    outcome = outcome_of(margin, rule.lower, rule.upper, uncertainty)
    why = UNSURE if outcome == "not decidable" else ""
    if outcome == "broken" and isinstance(rule, BetweenRuns):
        why = rule.remedy
    return Judged(rule.id, outcome, value, None, margin, None, None, rule.source, why)


def judge_settle(rule: Settle, bands: Mapping[str, Band], run: Run) -> tuple[Judged, ...]:
    """Hold every band of a settle against the time before its event; ids are `SETTLE/BAND`."""
    at = moment(rule.event, run)
    if at is None:
        return (unknown(rule.id, rule.source, f"{named_moment(rule.event, run)} isn't known"),)
    found = []
    for name in rule.bands:
        one = _over(bands[name], run, at - rule.lasting_s, at, 0.0)
        values = (one.outcome, one.value, one.time_s, one.margin, one.from_s, one.until_s)
        found.append(Judged(f"{rule.id}/{name}", *values, rule.source, one.why))
    return tuple(found)


def judge_values(
    rule: Band | Instant, signal: Sampled, run: Run, span: tuple[float, float], uncertainty: float
) -> Judged:
    """Hold bounds against a signal that is counted from its reference already, from one moment to another."""
    times, values, why = _inside(signal, *span, run.most_gap_s)
    return _judged(rule, values, times, span, uncertainty, why)


def margin_of(value: float, lower: float | None, upper: float | None) -> float:
    """Give how far a value is inside its bounds, negative outside; infinite without any."""
    below = math.inf if lower is None else value - lower
    above = math.inf if upper is None else upper - value
    return min(below, above)


def outcome_of(
    margin: float, lower: float | None, upper: float | None, uncertainty: float
) -> Outcome:
    """Give what a margin means: on its bound, give or take rounding, a value keeps it. uncertainty: standard."""
    slack = ROUNDING * max(1.0, *(abs(one) for one in (lower, upper) if one is not None), 0.0)
    guard = GUARD * uncertainty
    if guard > 0.0 and -guard - slack <= margin < guard - slack:
        return "not decidable"
    return "kept" if margin >= guard - slack else "broken"


def unknown(rule: str, source: Source, why: str) -> Judged:
    """Give what can't be decided at all."""
    return Judged(rule, "not decidable", None, None, None, None, None, source, why)


def crossing_s(times_s: Floats, values: Floats, index: int, level: float) -> float:
    """Give when a signal gets to a level between the sample before an index and that, arrays of shape (n,)."""
    if index == 0 or values[index] == level:
        return float(times_s[index])
    before, after = values[index - 1], values[index]
    share = 1.0 if math.isnan(before) or before == after else (level - before) / (after - before)
    step = times_s[index] - times_s[index - 1]
    return float(times_s[index - 1] + min(max(share, 0.0), 1.0) * step)


def _over(band: Band, run: Run, start: float, end: float, uncertainty: float) -> Judged:
    signal = run.signals.get((band.role, band.signal))
    if signal is None:
        return unknown(band.id, band.source, f"`{band.signal}` of {band.role} isn't recorded")
    reference = _reference(band, run)
    if reference is None:
        return unknown(band.id, band.source, f"the planned {band.signal} isn't known")
    return judge_values(band, signal.less(reference), run, (start, end), uncertainty)


def _reference(rule: Band | Instant, run: Run) -> Sampled | float | None:
    """What bounds count from; None where it isn't known. What is beside a path is given as the deviation that it is."""
    if rule.reference.name == "constant":
        return rule.reference.value
    beside = rule.reference.name in ("path", "lead path")
    return run.references.get((rule.role, rule.signal), 0.0 if beside else None)


def _inside(
    signal: Sampled, start: float, end: float, most_gap_s: float
) -> tuple[Floats, Floats, str]:
    """Samples from start to end with both ends interpolated, and why they aren't all there are; shape (n,)."""
    times, values = signal.times_s, signal.values
    if not len(times):
        return times, values, "there are no samples"
    chosen = (times > start) & (times < end)
    ends = [(one, signal.at(one)) for one in dict.fromkeys((start, end))]
    inside = np.concatenate([[start], times[chosen], [end]])
    why = ""
    if start < times[0] or end > times[-1]:
        why = f"samples are there from {times[0]:.3f} s to {times[-1]:.3f} s only"
    elif np.isnan(values[chosen]).any() or any(value != value for _, value in ends):
        why = "samples are missing in it"
    elif len(inside) > 1 and np.diff(times[_around(times, start, end)]).max(initial=0) > most_gap_s:
        why = f"there is a gap of more than {most_gap_s:g} s in it"
    at = np.array([one for one, _ in ends])
    return (
        np.concatenate([times[chosen], at]),
        np.concatenate([values[chosen], np.array([value for _, value in ends])]),
        why,
    )


def _around(times: Floats, start: float, end: float) -> slice:
    """The samples that a window lies between."""
    first = max(int(np.searchsorted(times, start, side="right")) - 1, 0)
    return slice(first, int(np.searchsorted(times, end)) + 1)


def _judged(
    rule: Band | Instant,
    values: Floats,
    times: Floats,
    span: tuple[float, float],
    uncertainty: float,
    why: str,
) -> Judged:
    known = ~np.isnan(values)
    values, times = values[known], times[known]
    if not len(values):
        return Judged(
            rule.id, "not decidable", None, None, None, *span, rule.source, why or "no samples"
        )
    lower = -math.inf if rule.lower is None else rule.lower
    upper = math.inf if rule.upper is None else rule.upper
    margins = np.minimum(values - lower, upper - values)
    # Of equal ones the first: when it began.
    least = margins.min()
    worst = int(np.argmin(np.where(margins == least, times, np.inf)))
    if not math.isfinite(least):
        worst = int(np.argmax(np.abs(values)))
    value, margin = float(values[worst]), float(margins[worst])
    outcome = outcome_of(margin, rule.lower, rule.upper, uncertainty)
    if outcome == "not decidable":
        why = UNSURE
    elif why and outcome == "kept":
        outcome = "not decidable"
    elif outcome == "broken":
        why = ""
    return Judged(rule.id, outcome, value, float(times[worst]), margin, *span, rule.source, why)


def _left(event: EventRef, run: Run) -> float | None:
    """When the time left, or the distance for a nominal headway, has come down to a value."""
    wanted = event.value_s or 0.0
    name: Signal = "time to collision" if event.event == "time to collision" else "distance"
    if name == "distance":
        if run.closing_mps is None:
            return None
        wanted *= run.closing_mps
    found = [one for (_, signal), one in run.signals.items() if signal == name]
    if not found:
        return None
    times, values = found[0].times_s, found[0].values
    above = np.flatnonzero(values > wanted)
    below = np.flatnonzero(values <= wanted)
    if not len(below) or not len(above) or above[0] > below[-1]:
        return None
    first = int(below[below > above[0]][0])
    return crossing_s(times, values, first, wanted)
