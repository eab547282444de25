"""Start times of no-wait segments, so that no two collide: a mixed-integer linear programme for HiGHS.

A segment runs through without waiting; between the segments of one job there may be waiting. What two segments can't
have are differences of their start times: the gaps between these are what a binary chooses from. A job shop has one
segment an operation, a no-wait job shop one a job.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

Interval = tuple[float, float]

# Relative gap at which an optimum counts as proved.
GAP = 1e-6
# Differences that miss a forbidden interval by less than this (s) are its end.
SAME_S = 1e-6


@dataclass(frozen=True, slots=True)
class Segment:
    """A run without waiting: how long it takes, when it may begin at the earliest; s. job: of whom it is."""

    job: int
    lasts_s: float
    ready_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Apart:
    """Of two segments by index: what the start of the second less that of the first can't be, open intervals in s."""

    first: int
    second: int
    forbidden: tuple[Interval, ...]


@dataclass(frozen=True, slots=True)
class Timetable:
    """Start times in s by segment; ends_s: of the last one; bound_s: none ends sooner; proved: both are equal."""

    starts_s: tuple[float, ...]
    ends_s: float
    bound_s: float
    proved: bool


def timetable(
    segments: Sequence[Segment],
    aparts: Sequence[Apart],
    *,
    until_s: float = math.inf,
    seconds: float = 60.0,
    bound_s: float = 0.0,
) -> Timetable | None:
    """Find the timetable that ends first, or the best within a time limit; segments of a job follow in their order.

    bound_s: one that is known. Returns None where there is none (proved), raises TimeoutError where none was found.
    """
    count = len(segments)
    horizon = min(until_s, max(s.ready_s for s in segments) + _longest(segments, aparts))
    writing = _Writing(segments, horizon)
    for apart in aparts:
        writing.apart(apart)
    solved = milp(
        writing.cost(),
        constraints=writing.constraints(),
        integrality=writing.integrality(),
        bounds=writing.bounds(bound_s),
        options={"time_limit": seconds, "mip_rel_gap": GAP},
    )
    if solved.status == 2:
        return None
    if solved.x is None:
        raise TimeoutError("no timetable was found in time")
    starts = tuple(float(one) for one in solved.x[:count])
    ends = max(t + s.lasts_s for t, s in zip(starts, segments, strict=True))
    # The cost has a little of every start in it: what it adds is taken off the bound.
    slack = writing.small * horizon * count
    # Without a binary it is a linear programme: its value is the bound.
    dual = solved.fun if solved.mip_dual_bound is None else solved.mip_dual_bound
    bound = max(bound_s, float(dual) - slack)
    return Timetable(starts, ends, min(bound, ends), ends - bound <= 1e-4 * max(ends, 1.0))


def _longest(segments: Sequence[Segment], aparts: Sequence[Apart]) -> float:
    """No best timetable takes longer: one after the other, each a forbidden interval behind the last."""
    ends = [abs(end) for one in aparts for pair in one.forbidden for end in pair]
    apart = max((end for end in ends if math.isfinite(end)), default=0.0)
    return sum(s.lasts_s for s in segments) + apart


class _Writing:
    """Columns: starts, the end, then binaries. Rows gathered as triplets."""

    def __init__(self, segments: Sequence[Segment], horizon_s: float) -> None:
        self.segments = segments
        self.horizon = horizon_s
        self.columns = len(segments) + 1
        self.rows: list[int] = []
        self.cols: list[int] = []
        self.values: list[float] = []
        self.low: list[float] = []
        self.high: list[float] = []
        # Among timetables that end alike, segments begin early.
        self.small = 1e-7
        end = len(segments)
        last: dict[int, int] = {}
        for number, segment in enumerate(segments):
            self.row({end: 1.0, number: -1.0}, segment.lasts_s, math.inf)
            before = last.get(segment.job)
            if before is not None:
                self.row({number: 1.0, before: -1.0}, segments[before].lasts_s, math.inf)
            last[segment.job] = number

    def row(self, entries: dict[int, float], low: float, high: float) -> None:
        for column, value in entries.items():
            self.rows.append(len(self.low))
            self.cols.append(column)
            self.values.append(value)
        self.low.append(low)
        self.high.append(high)

    def apart(self, one: Apart) -> None:
        """The difference lies in one of the gaps between forbidden intervals."""
        span = self.horizon
        gaps = [gap for gap in gaps_of(one.forbidden) if gap[1] >= -span and gap[0] <= span]
        gaps = [(max(low, -span), min(high, span)) for low, high in gaps]
        if len(gaps) == 1:
            self.row({one.second: 1.0, one.first: -1.0}, *gaps[0])
            return
        first = self.columns
        self.columns += len(gaps)
        chosen = range(first, self.columns)
        self.row(dict.fromkeys(chosen, 1.0), 1.0, 1.0)
        difference = {one.second: 1.0, one.first: -1.0}
        lows = {c: -low for c, (low, _) in zip(chosen, gaps, strict=True)}
        highs = {c: -high for c, (_, high) in zip(chosen, gaps, strict=True)}
        self.row({**difference, **lows}, 0.0, math.inf)
        self.row({**difference, **highs}, -math.inf, 0.0)

    def cost(self) -> np.ndarray:
        cost = np.zeros(self.columns)
        cost[: len(self.segments)] = self.small
        cost[len(self.segments)] = 1.0
        return cost

    def integrality(self) -> np.ndarray:
        whole = np.ones(self.columns)
        whole[: len(self.segments) + 1] = 0
        return whole

    def bounds(self, bound_s: float) -> Bounds:
        low, high = np.zeros(self.columns), np.ones(self.columns)
        for number, segment in enumerate(self.segments):
            low[number], high[number] = segment.ready_s, self.horizon
        low[len(self.segments)], high[len(self.segments)] = bound_s, self.horizon
        return Bounds(low, np.maximum(low, high))

    def constraints(self) -> LinearConstraint:
        shape = (len(self.low), self.columns)
        matrix = coo_array((self.values, (self.rows, self.cols)), shape=shape).tocsr()
        return LinearConstraint(matrix, self.low, self.high)


def merged(intervals: Sequence[Interval]) -> tuple[Interval, ...]:
    """Give the union of open intervals as disjoint ones, in order."""
    found: list[Interval] = []
    for low, high in sorted(intervals):
        if found and low < found[-1][1] - SAME_S:
            found[-1] = (found[-1][0], max(found[-1][1], high))
        elif high > low:
            found.append((low, high))
    return tuple(found)


def gaps_of(forbidden: Sequence[Interval]) -> list[Interval]:
    """Give what is left between disjoint intervals, the ends included."""
    ends = [-math.inf, *(one for pair in forbidden for one in pair), math.inf]
    return [(ends[i], ends[i + 1]) for i in range(0, len(ends), 2)]


def job_shop(
    jobs: Sequence[Sequence[tuple[int, float]]], *, waiting: bool = True
) -> tuple[list[Segment], list[Apart]]:
    """Write a job shop: jobs as (machine, duration) in their order; without waiting each job is one segment."""
    segments: list[Segment] = []
    uses: list[tuple[int, int, float, float]] = []  # segment, machine, begins, ends
    for number, job in enumerate(jobs):
        at = 0.0
        for machine, lasts in job:
            if waiting:
                segments.append(Segment(number, lasts))
                at = 0.0
            uses.append(
                (len(segments) if not waiting else len(segments) - 1, machine, at, at + lasts)
            )
            at += lasts
        if not waiting:
            segments.append(Segment(number, at))
    forbidden: dict[tuple[int, int], list[Interval]] = {}
    for i, (a, machine, a_0, a_1) in enumerate(uses):
        for b, other, b_0, b_1 in uses[i + 1 :]:
            if machine == other and segments[a].job != segments[b].job:
                forbidden.setdefault((a, b), []).append((a_0 - b_1, a_1 - b_0))
    return segments, [Apart(a, b, merged(one)) for (a, b), one in forbidden.items()]
