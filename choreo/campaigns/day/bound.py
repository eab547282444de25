"""By when no order of some runs can be done: what they take anyhow, laid into the working hours."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from choreo.campaigns.day.driving import State
from choreo.campaigns.day.hours import ROUNDING_S
from choreo.campaigns.day.records import Job, Rules
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Left:
    """What is still to be driven, summed: times in s, ways in m.

    count, length_s, rests_s: runs, and the sums of their lengths and of the least rests after them. least_back_s,
    most_rest_s: the extremes of one. stagings: those that are still needed.
    """

    count: int
    length_s: float
    rests_s: float
    most_rest_s: float
    most_back_s: float
    ways_m: Mapping[str, float]
    moves: Mapping[str, int]
    hits: Mapping[str, int]
    stagings: frozenset[int]


def left_of(rules: Rules, jobs: Sequence[Job]) -> Left:
    """Sum up what jobs take, all their tries."""
    rests = [max(rules.least_gap_s - job.back_s, 0.0) for job in jobs]
    names = rules.upkeep
    return Left(
        sum(job.tries for job in jobs),
        sum(job.tries * job.length_s for job in jobs),
        sum(job.tries * rest for job, rest in zip(jobs, rests, strict=True)),
        max(rests, default=0.0),
        max((job.back_s for job in jobs), default=0.0),
        {name: sum(job.tries * job.ways_m.get(name, 0.0) for job in jobs) for name in names},
        {name: sum(job.tries for job in jobs if job.ways_m.get(name, 0.0) > 0.0) for name in names},
        {name: sum(job.tries for job in jobs if name in job.touched) for name in names},
        frozenset(job.staging for job in jobs if job.tries),
    )


def earliest_end(rules: Rules, state: State, left: Left) -> float:
    """Give a time before which what is left can't be done, in any order; in s from the first day's midnight.

    Every moment of the working hours up to then is run, work or rest; a pause takes at most one rest upon itself, and a
    night the work between two runs and the wear so far as well.
    """
    if left.count == 0:
        return state.back_s
    # The rest before the next run counts from the last one; the rest after the very last run is not needed.
    gaps = left.count - 1 if state.end_s is None else left.count
    rests_s = max(left.rests_s - left.most_rest_s, 0.0)
    restagings = len(left.stagings - {state.staging}) - (1 if state.staging is None else 0)
    longer_s = max(rules.restage_s - left.most_rest_s, 0.0)
    gap_s = max(rules.restage_s, left.most_rest_s)
    special = _special(rules, state, left)
    spent_s = 0.0
    for crossed, (_, start_s, end_s) in enumerate(rules.hours.from_on(state.back_s)):
        need_s = left.length_s + rests_s + restagings * longer_s
        need_s -= min(crossed, gaps) * gap_s
        need_s += _longer_s(special, crossed, restagings, gap_s, left.most_rest_s)
        need_s = max(need_s, left.length_s)
        if spent_s + end_s - start_s >= need_s - ROUNDING_S:
            return max(start_s, start_s + need_s - spent_s) - ROUNDING_S
        spent_s += end_s - start_s
    raise AssertionError("days go on without end")


def _longer_s(
    special: list[tuple[int, float]], crossed: int, restagings: int, gap_s: float, rest_s: float
) -> float:
    """By how much gaps are longer in all for what movers need: (how many, how long) each.

    One gap may serve several needs: of gaps of a length there are as many as any one need asks for. The longest ones
    may be restagings, which are gap_s long anyway; all others rest_s at most. Pauses crossed take one each.
    """
    total_s, counted = 0.0, 0
    for count, long_s in sorted(special, key=lambda one: -one[1]):
        upto = max(count - crossed, counted)
        restaged = max(min(upto, restagings) - counted, 0)
        total_s += restaged * max(long_s - gap_s, 0.0)
        total_s += (upto - counted - restaged) * max(long_s - rest_s, 0.0)
        counted = upto
    return total_s


def _special(rules: Rules, state: State, left: Left) -> list[tuple[int, float]]:
    """How many gaps at least each need of a mover asks for, and how long they are from the return on."""
    found = []
    for (name, keep), used in zip(rules.upkeep.items(), state.used, strict=True):
        if keep.battery_m is not None:
            swaps = math.ceil((used.way_m + left.ways_m[name]) / keep.battery_m - 1e-9) - 1
            found.append((swaps, keep.swap_s))
        if keep.strokes is not None:
            swaps = math.ceil((used.strokes + left.moves[name]) / keep.strokes) - 1
            found.append((swaps, keep.swap_s))
        if keep.inspect_after is not None:
            stops = math.ceil((used.hits + left.hits[name]) / keep.inspect_after) - 1
            found.append((stops, keep.inspection_s))
        if keep.cool_after is not None:
            rests = math.ceil((used.runs + left.moves[name]) / keep.cool_after) - 1
            found.append((rests, keep.cool_s - left.most_back_s))
    return [(count, long_s) for count, long_s in found if count > 0]
