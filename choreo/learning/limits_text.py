"""Learnt rates as limits of a fleet file: of ramps that were driven at their limit, and so say what it really is.

A limit is lowered where the runs stay below it by more than they leave open, and never raised: that is the author's.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from choreo.learning.learnt import Learnt
from choreo.learning.rates import BuildUp, Rate, Way
from choreo.scenario import Limits
from choreo.scenario.text.document import parse_document
from choreo.scoring.against import Aspect
from choreo.scoring.estimators import Estimate
from choreo.words.records import dataclass

# A part of a ramp counts as driven at its limit from this share of it on.
AT_LIMIT = 0.98
# What is lower by less than this share is no other limit: common practice, no source.
WORTH = 0.01
ACHIEVED: Mapping[Way, Aspect] = {
    "acceleration": "achieved acceleration",
    "braking": "achieved braking",
}
# A value behind its key: a block in one line, or up to what ends it.
VALUE = r"(?P<key>{key}\s*:\s*)(?P<value>\{{[^{{}}]*\}}|[^,}}#\n]*[^,}}#\s])"


@dataclass(frozen=True, slots=True)
class LearntLimit:
    """One limit as the file is to have it, by its key; about: of how many runs and how sure."""

    key: str
    written: str
    about: str


def limits_of(
    owner: str, limits: Limits, rates: Sequence[Rate], builds: Sequence[BuildUp]
) -> list[LearntLimit]:
    """Give the limits that a mover's runs show to be lower than they are; all others are left out."""
    found = []
    for way, key in (("acceleration", "accelerate"), ("braking", "brake")):
        shown = [one for one in rates if (one.owner, one.way) == (owner, way)]
        shown = [one for one in shown if one.found.mean_half is not None and _at_limit(one, limits)]
        if not any(_below(_limit(one, limits), one.found) for one in shown):
            continue
        rates_mps2 = [min(one.found.mean, _limit(one, limits)) for one in shown]
        if key == "accelerate" and len(shown) > 1:
            rows = ", ".join(
                f"{1.8 * (one.from_mps + one.to_mps):.4g} km/h: {_rate(rate)}"
                for one, rate in zip(shown, rates_mps2, strict=True)
            )
            written = f"{{{rows}}}"
        else:
            written = _rate(sum(rates_mps2) / len(shown))
        sure = max(one.found.mean_half or 0.0 for one in shown)
        count = min(one.found.count for one in shown)
        found.append(LearntLimit(key, written, f"{key}: {count} runs, +/- {sure:.2g} m/s2 (95 %)"))
    jerks = [one.jerk_mps3 for one in builds if one.owner == owner and one.planned_s > 0.0]
    known = [one for one in jerks if one is not None and one.mean_half is not None]
    least = min(known, key=_mean, default=None)
    # One limit serves both ways: the slower build-up.
    if least is not None and _below(limits.jerk_mps3, least):
        about = f"jerk: {least.count} runs, +/- {least.mean_half:.2g} m/s3 (95 %)"
        found.append(LearntLimit("jerk", f"{least.mean:.3g} m/s3", about))
    return found


def with_limits_of(text: str, file: str, entry: str, limits: Sequence[LearntLimit]) -> str:
    """Give a fleet file's text with limits of an entry exchanged; those that it doesn't have in one line stay."""
    for one in limits:
        document = parse_document(text, file)
        place = document.key_places.get(("movers", entry, "limits", one.key))
        if place is None:
            continue
        lines = text.splitlines()
        line = lines[place.line - 1]
        before, rest = line[: place.column - 1], line[place.column - 1 :]
        value = re.match(VALUE.format(key=one.key), rest)
        if value is None:
            continue
        changed = value["key"] + one.written + rest[value.end() :]
        comment = f"; {one.about}" if "#" in changed else f"  # {one.about}"
        lines[place.line - 1] = before + changed + comment
        text = "\n".join(lines) + "\n"
    return text


def rebased(found: Sequence[Learnt], limits: Sequence[LearntLimit]) -> list[Learnt]:
    """What was achieved counts from the new limits: on average all of it."""
    keys = {one.key for one in limits}
    whole = {ACHIEVED["acceleration"]: "accelerate", ACHIEVED["braking"]: "brake"}
    return [
        replace(one, found=replace(one.found, mean=1.0)) if whole.get(one.aspect) in keys else one
        for one in found
    ]


def _at_limit(one: Rate, limits: Limits) -> bool:
    return one.planned_mps2 >= AT_LIMIT * _limit(one, limits)


def _limit(one: Rate, limits: Limits) -> float:
    """The limit in the middle of its speeds."""
    if one.way == "braking":
        return limits.brake_mps2
    speeds, rates = np.array(limits.accelerate).T
    return float(np.interp((one.from_mps + one.to_mps) / 2.0, speeds, rates))


def _below(limit: float, found: Estimate) -> bool:
    """Whether runs stay below a limit by more than they leave open, and by what is worth telling."""
    return limit - found.mean > max(found.mean_half or 0.0, WORTH * found.mean)


def _mean(one: Estimate) -> float:
    return one.mean


def _rate(value: float) -> str:
    return f"{value:.3g} m/s2"
