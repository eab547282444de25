"""A distribution against its tolerance in plain characters, for a terminal or a mail."""

from __future__ import annotations

import math
from itertools import pairwise

from choreo.plans.errors_record import Distribution, EncounterTold
from choreo.report.effects import per_cent
from choreo.words.display import plain

# Lines and columns of the bars.
MOST_LINES = 21
LABEL = 9
# Of runs inside and outside of the tolerance, and on its edge.
INSIDE, OUTSIDE, EDGE = "#", "x", "+"
# Edges of intervals are as exact as this share of one.
HAIR = 1e-6
# What small numbers are shown in: the unit, and its factor from SI.
SHOWN: dict[str, tuple[str, float]] = {"m": ("cm", 100.0), "s": ("ms", 1000.0)}


def histogram_lines(told: EncounterTold, values: Distribution, width: int) -> list[str]:
    """Draw where the runs lie: a line an interval of values, from what is most to what is least.

    What lies beyond the ends counts in the first and in the last.
    """
    small = max(abs(values.least), abs(values.most)) < 1.0
    unit, factor = SHOWN[values.unit] if small and values.unit in SHOWN else (values.unit, 1.0)
    if values.edges[-1] <= values.edges[0]:
        return [f"all runs at {factor * values.mean:.2f} {unit}"]
    low, high = told.wanted[0] - told.tolerance, told.wanted[1] + told.tolerance
    edges, counts = _merged(values, low)
    most = max(counts)
    room = max(width - LABEL - 12, 10)
    step = factor * max(end - begin for begin, end in pairwise(edges))
    digits = _digits(step)
    total = sum(counts)
    lines = [f"{unit:>{LABEL}}"]
    rows = list(zip(pairwise(edges), counts, strict=True))
    for (begin, end), count in reversed(rows):
        sign = _sign(begin, end, low, high)
        bar = sign * round(room * count / most)
        if count and not bar:
            bar = "."
        share = f" {per_cent(count / total)}" if count else ""
        lines.append(f"{plain(factor * (begin + end) / 2.0, digits):>{LABEL}} |{bar}{share}")
    on_edge = any(_sign(begin, end, low, high) == EDGE for (begin, end), _ in rows)
    also = f", {EDGE} on its edge" if on_edge else ""
    lines.append(
        f"{INSIDE} inside {_band(told, factor, digits)} {unit}, {OUTSIDE} outside{also}; each line is "
        f"{step:.{digits}f} {unit} wide."
    )
    return lines


def _sign(begin: float, end: float, low: float, high: float) -> str:
    hair = HAIR * (end - begin)
    if begin >= low - hair and end <= high + hair:
        return INSIDE
    return OUTSIDE if end <= low + hair or begin >= high - hair else EDGE


def _band(told: EncounterTold, factor: float, digits: int) -> str:
    low, high = told.wanted
    if low == high:
        return f"{factor * low:.{digits}f} +/- {factor * told.tolerance:.{digits}f}"
    return f"{factor * (low - told.tolerance):.{digits}f} to {factor * (high + told.tolerance):.{digits}f}"


def _merged(values: Distribution, low: float) -> tuple[list[float], list[int]]:
    """The histogram with so few intervals that it fits on a screen; where `low` is an edge it stays one."""
    several = 1
    while len(values.counts) / several > MOST_LINES:
        several *= 2
    width = values.edges[1] - values.edges[0]
    near = round((low - values.edges[0]) / width)
    # Intervals before the first edge that stays.
    before = near % several
    starts = (
        [0, *range(before, len(values.counts), several)]
        if before
        else [*range(0, len(values.counts), several)]
    )
    ends = [*starts[1:], len(values.counts)]
    counts = [sum(values.counts[a:b]) for a, b in zip(starts, ends, strict=True)]
    return [*(values.edges[a] for a in starts), values.edges[-1]], counts


def _digits(step: float) -> int:
    return max(0, 1 - math.floor(math.log10(step))) if step > 0 else 1
