"""Start times of segments by a mixed-integer linear programme for HiGHS: the best there is, or a bound.

What two segments can't have are differences of their start times: binaries choose among the gaps between these.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from choreo.sharing.model import Apart, Order, Row, Segment, Sharing, Timetable, gaps_of

# Relative gap at which an optimum counts as proved.
GAP = 1e-6
# A timetable that ends within this share of the bound is the best there is.
PROVED = 1e-4


def timetable(
    sharing: Sharing,
    *,
    until_s: float = math.inf,
    seconds: float = 60.0,
    nodes: int = 1_000_000,
    bound_s: float = 0.0,
) -> Timetable | None:
    """Find the timetable that ends first, or the best within a time limit.

    bound_s: one that is known. Returns None where there is none (proved), raises TimeoutError where none was found.
    """
    segments = sharing.segments
    count = len(segments)
    horizon = min(until_s, one_by_one_s(sharing))
    writing = _Writing(segments, horizon)
    for apart in sharing.aparts:
        writing.apart(apart)
    for order in sharing.orders:
        writing.order(order)
    solved = milp(
        writing.cost(),
        constraints=writing.constraints(),
        integrality=writing.integrality(),
        bounds=writing.bounds(bound_s),
        options={"time_limit": seconds, "node_limit": nodes, "mip_rel_gap": GAP},
    )
    if solved.status == 2:
        return None
    if solved.x is None:
        raise TimeoutError("no timetable was found in time")
    starts = tuple(float(one) for one in solved.x[:count])
    ends = sharing.ends_s(starts)
    # The cost has a little of every start in it: what it adds is taken off the bound.
    slack = writing.small * horizon * count
    # Without a binary it is a linear programme: its value is the bound.
    dual = solved.fun if solved.mip_dual_bound is None else solved.mip_dual_bound
    bound = max(bound_s, float(dual) - slack)
    return Timetable(starts, ends, min(bound, ends), ends - bound <= PROVED * max(ends, 1.0))


def one_by_one_s(sharing: Sharing) -> float:
    """Give a time within which all are done one after the other; no best timetable takes longer."""
    segments = sharing.segments
    ends = [
        end
        for one in sharing.aparts
        for low, high in one.forbidden
        for end in (high - segments[one.first].lasts_s, -low - segments[one.second].lasts_s)
        if math.isfinite(end)
    ]
    ends += [
        least - segments[a].lasts_s
        for order in sharing.orders
        for a, _, least in (*order.one_first, *order.other_first)
    ]
    apart = max(ends, default=0.0)
    ready = max(one.ready_s for one in segments)
    return ready + sum(one.lasts_s + max(apart, 0.0) for one in segments)


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

    def order(self, one: Order) -> None:
        """One of both is first: its rows hold, the other's are out of reach."""
        binary = self.columns
        self.columns += 1
        self._rows(one.one_first, binary, 1.0)
        self._rows(one.other_first, binary, 0.0)

    def _rows(self, rows: Sequence[Row], binary: int, chosen: float) -> None:
        far = self.horizon
        for a, b, least in rows:
            # t_b - t_a >= least where the binary is as chosen; else a row that always holds.
            sign = 1.0 if chosen == 0.0 else -1.0
            entries = {b: 1.0, a: -1.0, binary: sign * (far + least)}
            self.row(entries, least if chosen == 0.0 else -far, math.inf)

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
