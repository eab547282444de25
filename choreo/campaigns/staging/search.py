"""The fewest stagings of a campaign: ranges of start stations, points in them, every variant planned anew."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

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
    """A set of start stations and the members that are thought to run from it. own: those of one member's own plan."""

    at: Starts
    members: frozenset[int]
    own: bool = False

    @property
    def marks(self) -> tuple[float, ...]:
        """The stations alone: equal ones are one choice."""
        return tuple(self.at.values())


def fewest_stagings(
    members: Sequence[Member],
    planning: Planning = here,
    progress: Callable[[str], None] = lambda _step: None,
) -> Stagings:
    """Find the fewest stagings that all members run from, each planned and verified from its staging's marks.

    members: feasible variants. planning: plans them anew. progress: called with a word for each step. A member that
    runs from none of the shared marks keeps its own; one that may not be run from those either is left out. The bound
    counts on ramps that are driven as in the member's own plan.
    """
    layouts: dict[tuple[object, ...], list[Member]] = {}
    for member in members:
        layouts.setdefault(member.layout, []).append(member)
    stagings: list[Staging] = []
    plans: dict[int, Plan] = {}
    out: dict[int, Plan] = {}
    least: dict[tuple[object, ...], list[_Layout]] = {}
    for alike in layouts.values():
        progress(f"stagings: {len(alike)} variants of {', '.join(alike[0].starts)}")
        layout = _Layout(alike, planning, progress)
        for at, served in layout.stagings():
            plans |= served
            marks = {name: _mark(plan_of_any(served), name) for name in at}
            stagings.append(Staging(marks, tuple(sorted(served))))
        least.setdefault(alike[0].bare_layout, []).append(layout)
        out |= layout.out
    bound = sum(_least([one for layout in some for one in layout.alive]) for some in least.values())
    unsure = sum(member.unsure for member in members if member.index not in out)
    ordered = tuple(sorted(stagings, key=lambda one: one.variants))
    return Stagings(ordered, bound, plans, unsure, out)


def _least(members: Sequence[Member]) -> int:
    """With fewer stagings it can't be done, wherever what sights move stands; 0 for nobody."""
    boxes = [one.box for one in members]
    sure = [box for box, one in zip(boxes, members, strict=True) if box and not one.unsure]
    return max(at_least(sure), 1) if members else 0


def plan_of_any(plans: Mapping[int, Plan]) -> Plan:
    """Give one of some plans that start from the same marks."""
    return next(iter(plans.values()))


def _mark(plan: Plan, mover: str) -> Mark:
    start = plan.movers[mover].start
    return Mark(start.station_m, start.x_m, start.y_m, start.heading_deg)


class _Layout:
    """Members of one layout on their way to their stagings.

    Marks are chosen by ranges of starts, then all are planned from them; who turns out not to run from shared marks is
    taken from them, and looked at anew. members: by index, without those that are out. known: whether a member runs
    from some marks, and its plan from there.
    """

    def __init__(
        self, alike: Sequence[Member], planning: Planning, progress: Callable[[str], None]
    ) -> None:
        self.members = {member.index: member for member in alike}
        self.planning = planning
        self.progress = progress
        self.out: dict[int, Plan] = {}
        self.known: dict[tuple[tuple[float, ...], int], Plan | None] = {}
        self.choices = _choices(alike, FAR_END)
        self.own = {one: _own(self.members[one]) for one in self.members}
        self.alone: set[int] = set()

    @property
    def least(self) -> int:
        """With fewer stagings it can't be done; 0 where nobody runs."""
        return _least(self.alive)

    @property
    def alive(self) -> list[Member]:
        """Those that run."""
        return list(self.members.values())

    def stagings(self) -> Iterator[tuple[Starts, dict[int, Plan]]]:
        """Give the marks of each staging with the plans of those that run from it."""
        nearer = True
        while True:
            served = self._assigned()
            if nearer and len(served) > self.least:
                places = min(
                    max(VARIANTS_AND_PLACES // len(self.members), LEAST_PLACES), MOST_PLACES
                )
                shares = tuple(np.linspace(1.0, 0.0, places).tolist())
                self.choices += _choices(list(self.members.values()), shares)
                nearer = False
                continue
            alone = {one for choice, indices in served if choice.own for one in indices}
            if alone - self.alone:
                self._look_round(alone - self.alone)
                continue
            pairs = [(choice, index) for choice, indices in served for index in indices]
            new = [pair for pair in pairs if (pair[0].marks, pair[1]) not in self.known]
            if not new:
                break
            self._plan(new)
        for choice, indices in served:
            plans = {index: self.known[choice.marks, index] for index in indices}
            yield choice.at, {index: plan for index, plan in plans.items() if plan is not None}

    def _plan(self, pairs: Sequence[tuple[_Choice, int]]) -> None:
        """Plan members from marks; of one that doesn't run from them see whether it does from its own."""
        plans = self.planning([(self.members[index], choice.at) for choice, index in pairs])
        failed = []
        for (choice, index), plan in zip(pairs, plans, strict=True):
            runs = plan is not None and self.members[index].runs_as_before(plan)
            self.known[choice.marks, index] = plan if runs else None
            self.progress(f"stagings: {len(self.known)} plans from shared marks")
            if not runs and choice.own and plan is not None:
                self.out[index] = plan
                del self.members[index]
            elif not runs and (self.own[index].marks, index) not in self.known:
                failed.append((self.own[index], index))
        if failed:
            self._plan(failed)

    def _look_round(self, alone: Iterable[int]) -> None:
        """Add marks that are rounder than their own for members that share none."""
        for index in sorted(alone):
            self.alone.add(index)
            member = self.members[index]
            self.choices += [_Choice(at, frozenset({index})) for at in _rounder(member)]

    def _assigned(self) -> list[tuple[_Choice, list[int]]]:
        """The fewest choices, and each member at the one whose marks are nearest to its own."""
        every = sorted(self.choices, key=lambda one: sum(map(_roundness, one.marks)))
        every += [self.own[index] for index in self.members]
        sets = [
            frozenset(
                index
                for index in one.members
                if index in self.members and self.known.get((one.marks, index), 0) is not None
            )
            for one in every
        ]
        if not self.members:
            return []
        chosen = least_cover(sets).chosen
        served: dict[int, list[int]] = {number: [] for number in chosen}
        for index, member in self.members.items():
            with_it = [number for number in chosen if index in sets[number]]
            nearest = min(with_it, key=lambda number: member.far_from(every[number].at))
            served[nearest].append(index)
        return [(every[number], indices) for number, indices in served.items() if indices]


def _own(member: Member) -> _Choice:
    return _Choice(member.starts, frozenset({member.index}), own=True)


def _roundness(station_m: float) -> int:
    """0 for a station in whole metres, 1 for tenths, 2 for hundredths, 3 for others."""
    return next(
        (
            number
            for number, step in enumerate(ROUND_M)
            if abs(station_m / step - round(station_m / step)) < 1e-6
        ),
        len(ROUND_M),
    )


def _rounder(member: Member) -> Iterator[Starts]:
    """Sets of marks near a member's own but rounder, as far as anything is known of where else it can start."""
    at: dict[str, float] = {}
    for name, own_m in member.starts.items():
        one = member.range_of(name, at)
        if one is None:
            break
        at[name] = _mark_by(one.lo, one.hi, own_m)
    if len(at) == len(member.starts):
        yield at
    free = [name for name in member.starts if member.free(name)]
    if member.unsure and len(free) == 1:
        for step in ROUND_M[:2]:
            own_m = member.starts[free[0]]
            yield {**member.starts, free[0]: round(math.floor(own_m / step) * step, 6)}


def _choices(alike: Sequence[Member], shares: Sequence[float]) -> list[_Choice]:
    """Sets of marks that several may share."""
    members = {member.index: member for member in alike}
    found: dict[tuple[float, ...], _Choice] = {}
    for at, group in _explored(members, list(alike[0].starts), {}, frozenset(members), shares):
        found.setdefault(tuple(at.values()), _Choice(at, group))
        if len(found) >= MOST_MARKS:
            break
    return list(found.values())


def _explored(
    members: Mapping[int, Member],
    movers: Sequence[str],
    at: Starts,
    group: frozenset[int],
    shares: Sequence[float],
) -> Iterator[tuple[Starts, frozenset[int]]]:
    """Mover by mover: the largest groups whose ranges meet, given where the movers before stand.

    Who is left alone shares no marks.
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
            there = {**at, movers[0]: station_m}
            yield from _explored(members, movers[1:], there, meeting, shares)


def _mark_in(low: float, high: float, share: float) -> float:
    """Give a station in a range, as round as there is one not far before the share of it that is asked for."""
    return _mark_by(low, high, low + INSIDE_M + share * (high - low - 2 * INSIDE_M))


def _mark_by(low: float, high: float, wanted: float) -> float:
    """Give a station in a range, as round as there is one not far before a wanted one."""
    if high - low <= 2 * INSIDE_M:
        return (low + high) / 2.0
    low, high = low + INSIDE_M, high - INSIDE_M
    wanted = min(max(wanted, low), high)
    for step in ROUND_M:
        rounded = math.floor(wanted / step) * step
        if rounded >= low:
            return round(rounded, 6)
    return wanted
