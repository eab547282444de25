"""How many can be through all their places by a time: a linear programme over places together, for `bounds`.

Places taken one by one each leave room for more than all of them do together: who comes from one has a way of given
length to the next, and may wait in a place only, which is then taken for longer.

Let E_i(t) be how many of a kind have entered the i-th of their uses by the time t, L_i(t) how many have left it, and T
when all are done. Whatever the timetable, with n of a kind, way_i the time from leaving use i - 1 to entering use i,
d_i the least time in it:

    E_i(t) <= L_{i-1}(t - way_i)                      and no less, where nobody may wait on the way
    L_i(t) <= E_i(t - d_i)                            and no less, where nobody may wait in it
    sum over uses of a place of (E_i(t) - L_i(t)) <= 1                         one at a time
    L_i(t) = 0 before the first can have left it; L_i(t) = n from T less the way from there to the end on

The programme has all counts at multiples of a step as variables, that rise with t. Delays are rounded so that each row
still holds, since counts only rise: f(t) <= g(t - delay) stays true of a shorter delay, >= of a longer one. Counts may
be broken numbers. So where fewer than all can be done by T, no timetable ends by T.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import coo_array

from choreo.words.records import dataclass

# Delays are known to this, s.
SURE_S = 1e-3
# Done are all where no more than this part of one vehicle is missing.
WHOLE = 1e-3
# A timetable within this multiple of the bound is what is looked for: asked first.
GOAL = 1.05
# A bound is asked for no more of where a timetable within this multiple of it is known.
ENOUGH = 1.03
# So many variables at most; a use of a place is at least so many steps where they suffice for it.
MOST_VARIABLES, FINE = 4600, 12


@dataclass(frozen=True, slots=True)
class Passage:
    """A use of a place: way_s since the vehicle left its use before, or since its start; lasts_s, the least; whether it
    may wait on the way there and in it.
    """

    place: str
    way_s: float
    lasts_s: float
    waits_before: bool
    waits: bool


@dataclass(frozen=True, slots=True)
class Stream:
    """All of a kind: how many, when they are ready, their uses in order, the way from the last to the end; s."""

    count: int
    ready_s: float
    passages: tuple[Passage, ...]
    tail_s: float

    def left_s(self) -> list[tuple[float, float]]:
        """Give when a vehicle can have left each use at the earliest, and how long it still takes then."""
        found, now = [], self.ready_s
        for one in self.passages:
            now += one.way_s + one.lasts_s
            found.append(now)
        ends = now + self.tail_s
        return [(t, ends - t) for t in found]


def least_s(streams: Sequence[Stream], low_s: float, high_s: float, probes: int = 4) -> float:
    """Give a time between both by which not all can be done, low_s where no later one is known."""
    if done_by(streams, low_s + 0.02 * (high_s - low_s)):
        return low_s
    best_s = high_s
    for number in range(probes):
        if best_s <= ENOUGH * low_s:
            break
        middle = 0.5 * (low_s + high_s) if number else max(high_s / GOAL, 0.5 * (low_s + high_s))
        if done_by(streams, middle):
            high_s = middle
        else:
            low_s = middle
    return low_s


def done_by(streams: Sequence[Stream], until_s: float) -> bool:
    """Tell whether it isn't known that some can't be done by until_s."""
    if not _functions(streams):
        return True
    step = _step_s(streams, until_s, max(MOST_VARIABLES // _functions(streams), 20))
    writing = _Writing(streams, until_s, step)
    if writing.late:
        return False
    solved = linprog(
        writing.cost(), A_ub=writing.matrix(), b_ub=writing.most, bounds=writing.bounds()
    )
    return bool(
        solved.status != 0 or -solved.fun >= 1.0 - WHOLE / max(one.count for one in streams)
    )


def _functions(streams: Sequence[Stream]) -> int:
    return 2 * sum(len(one.passages) for one in streams)


def _step_s(streams: Sequence[Stream], until_s: float, slots: int) -> float:
    """A step that goes into the uses: what is lost by rounding weighs least."""
    uses = {round(p.lasts_s, 2): 0.0 for one in streams for p in one.passages}
    for one in streams:
        for p in one.passages:
            uses[round(p.lasts_s, 2)] += one.count
    least = until_s / slots
    steps = {max(lasts - 2.0 * SURE_S, SURE_S) / k for lasts in uses for k in range(1, FINE + 1)}
    fit = [step for step in steps if least <= step <= 3.0 * least] or [least]

    def lost(step: float) -> float:
        return sum(count * (lasts - step * _down(lasts, step)) for lasts, count in uses.items())

    return min(fit, key=lambda step: (lost(step) + step, step))


def _down(delay_s: float, step_s: float) -> int:
    return max(math.floor((delay_s - SURE_S) / step_s + 1e-9), 0)


def _up(delay_s: float, step_s: float) -> int:
    return math.ceil((delay_s + SURE_S) / step_s - 1e-9)


class _Writing:
    """Columns: of each stream and use the counts of those who have entered it, then of those who have left it, at each
    step; last the share of all that is done, which is at most 1.
    """

    def __init__(self, streams: Sequence[Stream], until_s: float, step_s: float) -> None:
        self.step = step_s
        self.until = until_s
        self.slots = math.floor(until_s / step_s) + 1
        self.share = self.slots * _functions(streams)
        self.high = np.zeros(self.share + 1)
        self.high[-1] = 1.0
        self.rows: list[int] = []
        self.cols: list[int] = []
        self.values: list[float] = []
        self.most: list[float] = []
        # Who takes longer alone isn't done.
        self.late = False
        taken: dict[str, list[int]] = {}
        number = 0
        for stream in streams:
            before = None
            for passage, (left, tail) in zip(stream.passages, stream.left_s(), strict=True):
                enters, leaves = number * self.slots, (number + 1) * self.slots
                self._counts(enters, stream.count, left - passage.lasts_s, tail + passage.lasts_s)
                self._counts(leaves, stream.count, left, tail)
                if before is not None:
                    self._behind(before, enters, passage.way_s, waits=passage.waits_before)
                self._behind(enters, leaves, passage.lasts_s, waits=passage.waits)
                taken.setdefault(passage.place, []).append(enters)
                before = leaves
                number += 2
        for uses in taken.values():
            for slot in range(self.slots):
                pairs = [((at + slot, 1.0), (at + self.slots + slot, -1.0)) for at in uses]
                self.row([entry for pair in pairs for entry in pair], 1.0)

    def row(self, entries: Sequence[tuple[int, float]], most: float) -> None:
        for column, value in entries:
            self.rows.append(len(self.most))
            self.cols.append(column)
            self.values.append(value)
        self.most.append(most)

    def _counts(self, first: int, count: int, least_s: float, tail_s: float) -> None:
        """None before least_s, all from tail_s before the end on, rising."""
        self.late |= least_s + tail_s > self.until + SURE_S
        begins = max(math.ceil((least_s - SURE_S) / self.step), 0)
        done = math.ceil((self.until - tail_s + SURE_S) / self.step)
        self.high[first + begins : first + self.slots] = count
        for slot in range(max(begins, 1), self.slots):
            self.row(((first + slot - 1, 1.0), (first + slot, -1.0)), 0.0)
        for slot in range(max(done, 0), self.slots):
            self.row(((self.share, count), (first + slot, -1.0)), 0.0)

    def _behind(self, first: int, then: int, delay_s: float, *, waits: bool) -> None:
        least, most = _down(delay_s, self.step), _up(delay_s, self.step)
        for slot in range(self.slots):
            if slot >= least:
                self.row(((then + slot, 1.0), (first + slot - least, -1.0)), 0.0)
            if slot >= most and not waits:
                self.row(((first + slot - most, 1.0), (then + slot, -1.0)), 0.0)

    def cost(self) -> np.ndarray:
        cost = np.zeros(self.share + 1)
        cost[-1] = -1.0
        return cost

    def bounds(self) -> np.ndarray:
        return np.column_stack((np.zeros(self.share + 1), self.high))

    def matrix(self) -> coo_array:
        shape = (len(self.most), self.share + 1)
        return coo_array((self.values, (self.rows, self.cols)), shape=shape).tocsr()
