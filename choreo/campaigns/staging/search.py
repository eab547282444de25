"""The fewest stagings of a campaign: ranges of start stations, points in them, every variant planned anew."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence

import numpy as np

from choreo.campaigns.staging.boxes import Interval, at_least, meeting_at
from choreo.campaigns.staging.cover import least_cover
from choreo.campaigns.staging.member import Member
from choreo.campaigns.staging.planning import Planning, Starts, here
from choreo.campaigns.staging.records import Mark, Staging, Stagings
from choreo.plans import Plan
from choreo.words.records import dataclass

# Marks stand at whole multiples of the coarsest of these (m) that is in reach.
ROUND_M = (1.0, 0.1, 0.01)
# Where in a common range marks are tried first: at its far end, where the run-up is least. Then at this many places, as
# long as these are so many variants and places.
FAR_END = (1.0,)
MOST_PLACES, LEAST_PLACES, VARIANTS_AND_PLACES = 17, 3, 600
# So many sets of marks are looked at in one layout.
MOST_MARKS = 400
# A mark keeps off the ends of its range by this (m): they are known no better.
INSIDE_M = 2e-5


@dataclass(frozen=True)
class _Choice:
    """A set of start stations and the members that are thought to run from it."""

    at: Starts
    members: frozenset[int]


def fewest_stagings(
    members: Sequence[Member],
    planning: Planning = here,
    progress: Callable[[str], None] = lambda _step: None,
) -> Stagings:
    """Find the fewest stagings that all members run from, each planned and verified from its staging's marks.

    members: feasible variants. planning: plans them anew. progress: called with a word for each step. A member that
    runs from none of the shared marks keeps its own. The bound counts on ramps that are driven as in the member's own
    plan.
    """
    layouts: dict[tuple[object, ...], list[Member]] = {}
    for member in members:
        layouts.setdefault(member.layout, []).append(member)
    stagings: list[Staging] = []
    plans: dict[int, Plan] = {}
    bound = 0
    for alike in layouts.values():
        progress(f"stagings: {len(alike)} variants of {', '.join(alike[0].starts)}")
        sure = [member.box for member in alike if member.box and not member.unsure]
        least = max(at_least(sure), 1)
        bound += least
        for at, served in _stagings(alike, least, planning, progress):
            plans |= served
            marks = {name: _mark(plan_of_any(served), name) for name in at}
            stagings.append(Staging(marks, tuple(sorted(served))))
    unsure = sum(member.unsure for member in members)
    return Stagings(tuple(sorted(stagings, key=lambda one: one.variants)), bound, plans, unsure)


def plan_of_any(plans: Mapping[int, Plan]) -> Plan:
    """Give one of some plans that start from the same marks."""
    return next(iter(plans.values()))


def _mark(plan: Plan, mover: str) -> Mark:
    start = plan.movers[mover].start
    return Mark(start.station_m, start.x_m, start.y_m, start.heading_deg)


def _stagings(
    alike: Sequence[Member], least: int, planning: Planning, progress: Callable[[str], None]
) -> Iterator[tuple[Starts, dict[int, Plan]]]:
    """The stagings of one layout; who turns out not to run from shared marks is taken from them, and looked at anew."""
    by_index = {member.index: member for member in alike}
    choices, farther = _choices(alike, FAR_END), True
    known: dict[tuple[int, int], Plan | None] = {}
    while True:
        sets = [
            frozenset(index for index in one.members if known.get((number, index), 0) is not None)
            for number, one in enumerate(choices)
        ]
        served = _assigned(choices, sets, by_index)
        new = [
            (number, index)
            for number, indices in served.items()
            for index in indices
            if (number, index) not in known
        ]
        plans = planning([(by_index[index], choices[number].at) for number, index in new])
        for pair, plan in zip(new, plans, strict=True):
            known[pair] = plan
            progress(f"stagings: {len(known)} plans from shared marks")
        failed = any(known[pair] is None for pair in new)
        if failed:
            continue
        if farther and len(served) > least:
            places = min(max(VARIANTS_AND_PLACES // len(alike), LEAST_PLACES), MOST_PLACES)
            choices += _choices(alike, tuple(np.linspace(1.0, 0.0, places).tolist()))
            farther = False
        else:
            break
    for number, indices in served.items():
        found = {index: known[number, index] for index in indices}
        yield (
            choices[number].at,
            {index: plan for index, plan in found.items() if plan is not None},
        )


def _assigned(
    choices: Sequence[_Choice], sets: Sequence[frozenset[int]], members: Mapping[int, Member]
) -> dict[int, list[int]]:
    """The fewest choices, and each member at the one whose marks are nearest to its own."""
    chosen = least_cover(sets).chosen
    served: dict[int, list[int]] = {number: [] for number in chosen}
    for index, member in members.items():
        with_it = [number for number in chosen if index in sets[number]]
        nearest = min(with_it, key=lambda number: member.far_from(choices[number].at))
        served[nearest].append(index)
    return {number: indices for number, indices in served.items() if indices}


def _choices(alike: Sequence[Member], shares: Sequence[float]) -> list[_Choice]:
    """Sets of marks, and each member's own: those are the last resort."""
    members = {member.index: member for member in alike}
    found: dict[tuple[float, ...], _Choice] = {}
    for at, group in _explored(members, list(alike[0].starts), {}, frozenset(members), shares):
        found.setdefault(tuple(at.values()), _Choice(at, group))
        if len(found) >= MOST_MARKS:
            break
    for member in alike:
        found.setdefault(
            tuple(member.starts.values()),
            _Choice(member.starts, frozenset({member.index})),
        )
    return list(found.values())


def _explored(
    members: Mapping[int, Member],
    movers: Sequence[str],
    at: Starts,
    group: frozenset[int],
    shares: Sequence[float],
) -> Iterator[tuple[Starts, frozenset[int]]]:
    """Mover by mover: the largest groups whose ranges meet, given where the movers before stand.

    Who is left alone has no marks to share: its own are known to do.
    """
    if len(group) < 2:
        return
    if not movers:
        yield at, group
        return
    intervals: dict[int, Interval] = {}
    for index in sorted(group):
        one = members[index].range_of(movers[0], at)
        if one is not None:
            intervals[index] = one
    for meeting in meeting_at(intervals):
        low = max(intervals[index].lo for index in meeting)
        high = min(intervals[index].hi for index in meeting)
        for station_m in dict.fromkeys(_mark_in(low, high, share) for share in shares):
            yield from _explored(members, movers[1:], {**at, movers[0]: station_m}, meeting, shares)


def _mark_in(low: float, high: float, share: float) -> float:
    """Give a station in a range, as round as there is one not far before the share of it that is asked for."""
    if high - low <= 2 * INSIDE_M:
        return (low + high) / 2.0
    low, high = low + INSIDE_M, high - INSIDE_M
    wanted = low + share * (high - low)
    for step in ROUND_M:
        rounded = math.floor(wanted / step) * step
        if rounded >= low:
            return round(rounded, 6)
    return wanted
