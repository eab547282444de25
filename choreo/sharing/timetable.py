"""Start times of segments by a mixed-integer linear programme for HiGHS: the best there is, or a bound.

What two segments can't have are differences of their start times: binaries choose among the gaps between these.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from choreo.sharing.model import Apart, Interval, Order, Sharing, Timetable, gaps_of
from choreo.words.records import dataclass

# Relative gap at which an optimum counts as proved.
GAP = 1e-6
# A timetable that ends within this share of the bound is the best there is.
PROVED = 1e-4
# What a start costs of what the end does: among timetables that end alike, segments begin early.
EARLY = 1e-7
# Starts and differences are looked at this much wider than they can be, s: rounding leaves none out.
WIDER_S = 1e-6


class NoneInTimeError(TimeoutError):
    """No timetable was found in time; bound_s: none ends sooner."""

    def __init__(self, bound_s: float) -> None:
        super().__init__("no timetable was found in time")
        self.bound_s = bound_s


@dataclass(frozen=True, slots=True)
class Around:
    """Timetables in which no segment starts more than by_s before or after it does in one; s."""

    starts_s: Sequence[float]
    by_s: float


def timetable(
    sharing: Sharing,
    *,
    until_s: float = math.inf,
    seconds: float = 60.0,
    nodes: int = 1_000_000,
    bound_s: float = 0.0,
    around: Around | None = None,
    enough: float = GAP,
    early: bool = True,
) -> Timetable | None:
    """Find the timetable that ends first, or the best within a time limit.

    bound_s: one that is known. around: only timetables near one are looked at, so nothing is proved of others. enough:
    one that ends within this share of what none beats will do. early: of those that end alike segments begin early,
    which takes longer to find. Returns None where there is none (proved), raises NoneInTimeError where none was found.
    """
    segments = sharing.segments
    count = len(segments)
    horizon = min(until_s, one_by_one_s(sharing))
    writing = _Writing(sharing, horizon, around, EARLY if early else 0.0)
    if writing.empty:
        return None
    for apart in sharing.aparts:
        writing.apart(apart)
    binaries = [writing.order(order) for order in sharing.orders]
    for one, then in sharing.implied:
        writing.implied(binaries[one], binaries[then])
    if writing.empty:
        return None
    solved = milp(
        writing.cost(),
        constraints=writing.constraints(),
        integrality=writing.integrality(),
        bounds=writing.bounds(bound_s),
        options={"time_limit": seconds, "node_limit": nodes, "mip_rel_gap": enough},
    )
    if solved.status == 2:
        return None
    # The cost has a little of every start in it: what it adds is taken off the bound.
    slack = writing.small * horizon * count
    # Without a binary it is a linear programme: its value is the bound.
    dual = solved.fun if solved.mip_dual_bound is None else solved.mip_dual_bound
    proved = bound_s if around is not None or dual is None else max(bound_s, float(dual) - slack)
    if solved.x is None:
        raise NoneInTimeError(proved)
    starts = tuple(float(one) for one in solved.x[:count])
    ends = sharing.ends_s(starts)
    return Timetable(starts, ends, min(proved, ends), ends - proved <= PROVED * max(ends, 1.0))


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
    """Columns: starts, the end, then binaries. Rows gathered as triplets.

    small: what a start costs. early, late: between which each start lies. empty: where there is none.
    """

    def __init__(
        self, sharing: Sharing, horizon_s: float, around: Around | None, small: float
    ) -> None:
        segments = sharing.segments
        self.segments = segments
        self.horizon = horizon_s
        self.columns = len(segments) + 1
        self.rows: list[int] = []
        self.cols: list[int] = []
        self.values: list[float] = []
        self.low: list[float] = []
        self.high: list[float] = []
        self.small = small
        self.early = [one.ready_s for one in segments]
        self.late = [horizon_s - one.lasts_s for one in segments]
        if around is not None:
            for number, start in enumerate(around.starts_s):
                self.early[number] = max(self.early[number], start - around.by_s)
                self.late[number] = min(self.late[number], start + around.by_s)
        end = len(segments)
        for chain in sharing.jobs:
            for a, b in pairwise(chain):
                self.row({b: 1.0, a: -1.0}, segments[a].lasts_s, math.inf)
                self.early[b] = max(self.early[b], self.early[a] + segments[a].lasts_s)
            for a, b in pairwise(reversed(chain)):
                self.late[b] = min(self.late[b], self.late[a] - segments[b].lasts_s)
            self.row({end: 1.0, chain[-1]: -1.0}, segments[chain[-1]].lasts_s, math.inf)
        spans = zip(self.early, self.late, strict=True)
        self.empty = any(early > late + WIDER_S for early, late in spans)

    def _span(self, a: int, b: int) -> Interval:
        """Between which the start of b less that of a lies."""
        return (
            self.early[b] - self.late[a] - WIDER_S,
            self.late[b] - self.early[a] + WIDER_S,
        )

    def row(self, entries: dict[int, float], low: float, high: float) -> None:
        for column, value in entries.items():
            self.rows.append(len(self.low))
            self.cols.append(column)
            self.values.append(value)
        self.low.append(low)
        self.high.append(high)

    def apart(self, one: Apart) -> None:
        """The difference lies in one of the gaps between forbidden intervals."""
        least, most = self._span(one.first, one.second)
        gaps = [gap for gap in gaps_of(one.forbidden) if gap[1] >= least and gap[0] <= most]
        gaps = [(max(low, least), min(high, most)) for low, high in gaps]
        difference = {one.second: 1.0, one.first: -1.0}
        if not gaps:
            self.empty = True
        elif len(gaps) == 1:
            if gaps[0] != (least, most):
                self.row(difference, *gaps[0])
        else:
            chosen = range(self.columns, self.columns + len(gaps))
            self.columns += len(gaps)
            self.row(dict.fromkeys(chosen, 1.0), 1.0, 1.0)
            lows = {c: -low for c, (low, _) in zip(chosen, gaps, strict=True)}
            highs = {c: -high for c, (_, high) in zip(chosen, gaps, strict=True)}
            self.row({**difference, **lows}, 0.0, math.inf)
            self.row({**difference, **highs}, -math.inf, 0.0)

    def order(self, one: Order) -> int | None:
        """One of both is first: its rows hold, the other's are out of reach.

        Returns the column that is 1 where `one` is; None where there is no choice.
        """
        sides = [
            rows
            for rows in (one.one_first, one.other_first)
            if all(self._span(a, b)[1] >= least for a, b, least in rows)
        ]
        if not sides:
            self.empty = True
        elif len(sides) == 1:
            for a, b, least in sides[0]:
                self.row({b: 1.0, a: -1.0}, least, math.inf)
        else:
            binary = self.columns
            self.columns += 1
            for side, rows in enumerate(sides):
                for a, b, least in rows:
                    # t_b - t_a >= least where the binary is 1 - side; else a row that always holds.
                    far = max(least - self._span(a, b)[0], 0.0)
                    sign = 1.0 if side else -1.0
                    low = least if side else least - far
                    self.row({b: 1.0, a: -1.0, binary: sign * far}, low, math.inf)
            return binary
        return None

    def implied(self, one: int | None, then: int | None) -> None:
        """Where one column is 1 the other is."""
        if one is not None and then is not None:
            self.row({then: 1.0, one: -1.0}, 0.0, math.inf)

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
        count = len(self.segments)
        low[:count], high[:count] = self.early, self.late
        low[len(self.segments)], high[len(self.segments)] = bound_s, self.horizon
        return Bounds(low, np.maximum(low, high))

    def constraints(self) -> LinearConstraint:
        shape = (len(self.low), self.columns)
        matrix = coo_array((self.values, (self.rows, self.cols)), shape=shape).tocsr()
        return LinearConstraint(matrix, self.low, self.high)
