"""Speeds that a file leaves open, tried one by one: with a speed given, the linear stage decides at once."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import product

from choreo.case.answers import Answer
from choreo.case.by_rows import linear_answer
from choreo.case.choices import Open, open_speeds
from choreo.case.departures import DEPARTURES, with_departures
from choreo.case.record import Case
from choreo.case.simulating import simulated
from choreo.plans.message import Message, messages_of
from choreo.plans.record import Plan
from choreo.problem.patience import Patience, TimeUp
from choreo.problem.phases import least_open_speed
from choreo.words import ChoreoError, Finding
from choreo.words.kinds import Prefer
from choreo.words.records import dataclass

# So many values of each open speed, and each so many of them first, by how many are open; with more open speeds nothing
# is tried.
VALUES = {1: (33, 4), 2: (9, 2), 3: (5, 2)}

# Which value of each open speed.
Place = tuple[int, ...]


@dataclass(frozen=True)
class Grid:
    """Some values of all open speeds, also below what a ramp comes from.

    count: of values of each; stride: between those that are tried first.
    """

    case: Case
    speeds: tuple[Open, ...]
    count: int
    stride: int

    def at(self, place: Place) -> Case:
        """Give the case with the values of a place."""
        scenario = self.case.scenario
        for one, index in zip(self.speeds, place, strict=True):
            low, high = one.span.lo, one.span.hi
            low = low if low > 0.0 else least_open_speed(high)
            scenario = one.put(scenario, low + (high - low) * index / (self.count - 1))
        return self.case.changed(scenario)

    def places(self, stride: int) -> Iterator[Place]:
        """Give every place whose indices are multiples of a stride."""
        yield from product(range(0, self.count, stride), repeat=len(self.speeds))

    def beside(self, place: Place, stride: int) -> Iterator[Place]:
        """Give the places next to one, so many values away in some of the speeds."""
        steps = product((-stride, 0, stride), repeat=len(place))
        beside = (tuple(i + s for i, s in zip(place, step, strict=True)) for step in steps)
        yield from (one for one in beside if all(0 <= i < self.count for i in one))


def grid_of(case: Case) -> Grid | None:
    """Give the values of a case's open speeds; None where none is open, or too many."""
    speeds = tuple(open_speeds(case.scenario))
    if len(speeds) not in VALUES:
        return None
    return Grid(case, speeds, *VALUES[len(speeds)])


def cost_of(plan: Plan, prefer: Prefer) -> float:
    """Give what is wanted least of a plan: the time of its last encounter (s), else its runway (m)."""
    if prefer == "quickest run" and plan.encounters:
        return max(one.time_s for one in plan.encounters.values())
    return plan.runway_m


def at_given_speeds(case: Case, warnings: tuple[Message, ...], patience: Patience) -> Answer | None:
    """The best plan of some values of open speeds, each decided by the linear stage; told that it may not be least."""
    grid = grid_of(case)
    if grid is None:
        return None
    seen: set[Place] = set()
    best: _AtSpeeds | None = None
    for place in grid.places(grid.stride):
        best = _better(grid, place, seen, best, (warnings, patience))
    if best is None:
        for place in grid.places(1):
            best = _better(grid, place, seen, best, (warnings, patience))
    stride = grid.stride // 2
    while best is not None and stride > 0:
        for place in grid.beside(best.place, stride):
            best = _better(grid, place, seen, best, (warnings, patience))
        stride //= 2
    if best is None:
        return None
    origin = case.scenario.origin("movers")
    word = messages_of((Finding("plan.tried-speeds", "warning", origin, {}, ()),))
    plan = best.answer.plan
    return replace(best.answer, plan=replace(plan, warnings=(*word, *plan.warnings)))


@dataclass(frozen=True, slots=True)
class _AtSpeeds:
    """An answer at some values of open speeds, and what it costs: first of all ramps that aren't at their limits."""

    place: Place
    cost: tuple[bool, float]
    answer: Answer


def _better(
    grid: Grid,
    place: Place,
    seen: set[Place],
    best: _AtSpeeds | None,
    how: tuple[tuple[Message, ...], Patience],
) -> _AtSpeeds | None:
    """The answer at a place of the grid where it is better than the best so far, else that."""
    if place in seen:
        return best
    seen.add(place)
    case, (warnings, patience) = grid.case, how
    try:
        found = linear_answer(grid.at(place), patience)
    except ChoreoError:  # a speed at which something in the file makes no sense
        return best
    except TimeUp:
        if best is None:
            raise
        return best
    if found is None or found.solved is None:
        return best
    eased = not DEPARTURES.isdisjoint(one.code for one in found.plan.warnings)
    cost = eased, cost_of(found.plan, case.scenario.prefer)
    if best is not None and cost >= best.cost:
        return best
    plan, _ = simulated(case, found.solved, warnings)
    if plan.verdict != "feasible":
        return best
    plan = with_departures(case, plan, found.solved)
    return _AtSpeeds(place, cost, Answer(case, plan, found.solved))
