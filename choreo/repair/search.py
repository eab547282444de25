"""The least change that helps, and the largest that still leaves a plan: found by the solver, confirmed by verify."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from choreo.case.answering import answer
from choreo.plans.record import Budget, Plan
from choreo.problem import Staging, build_staging, numbers_of, same_geometry, structure_of
from choreo.proof import broken_budgets
from choreo.repair.knobs import Knob
from choreo.scenario import Scenario
from choreo.solve import Reach
from choreo.words import ChoreoError

Vector = npt.NDArray[np.float64]

# Values are rounded away from the edge to what a crew can set (SI): 0.01 km/h, 1 mm, 1 ms, 1 mm/s2 and /s3.
STEPS = {"m/s": 1 / 360, "m": 1 / 1000, "s": 1 / 1000, "m/s2": 1 / 1000, "m/s3": 1 / 1000}
SLOPE_STEP = 1 / 1000
NEWTON = 3
# Quantities that move less than this part of their size are not moved.
UNMOVED = 1 / 1_000_000


@dataclass(frozen=True, slots=True)
class Change:
    """One knob's move, old and new value in SI."""

    knob: Knob
    value: float

    @property
    def relative(self) -> float:
        """Size of the move relative to the quantity's own size."""
        return abs(self.value - self.knob.value) / self.knob.size


@dataclass(frozen=True, slots=True)
class Repair:
    """One change, or two, that make the scenario feasible; exact: the knobs' values before rounding."""

    changes: tuple[Change, ...]
    exact: tuple[float, ...]

    @property
    def relative(self) -> float:
        return sum(change.relative for change in self.changes)


@dataclass(frozen=True)
class Moved:
    """A staging with the directions in which each knob moves its numbers; only knobs that keep the structure."""

    staging: Staging
    knobs: tuple[Knob, ...]
    directions: Vector


def moved_by(scenario: Scenario, knobs: Sequence[Knob]) -> Moved:
    """Find by differences how each knob moves the problem's numbers.

    A knob that changes the structure, or moves nothing, is left out.
    """
    staging = build_staging(scenario)
    base, structure = np.array(numbers_of(staging.problem)), structure_of(staging.problem)
    kept, columns = [], []
    for knob in knobs:
        step = SLOPE_STEP * knob.size
        try:
            other = staged_like(knob.put(scenario, knob.value + step), scenario, staging).problem
        except ChoreoError:
            continue
        if structure_of(other) != structure:
            continue
        slope = (np.array(numbers_of(other)) - base) / step
        slope[np.abs(slope) < UNMOVED] = 0.0
        if slope.any():
            kept.append(knob)
            columns.append(slope)
    directions = np.array(columns).T if columns else np.zeros((len(base), 0))
    return Moved(staging, tuple(kept), directions)


def single_repairs(scenario: Scenario, knobs: Sequence[Knob]) -> tuple[list[Repair], list[Knob]]:
    """Give the repairs that work alone, smallest first, and the knobs that can't help alone."""
    moved = moved_by(scenario, knobs)
    repairs, helpless = [], [knob for knob in knobs if knob not in moved.knobs]
    hopeless = hopeless_moves(scenario, moved)
    hopeful = [
        i for i, knob in enumerate(moved.knobs) if any((i, s) not in hopeless for s in knob.helps)
    ]
    reach = Reach(moved.staging.problem, moved.directions) if hopeful else None
    for index, knob in enumerate(moved.knobs):
        found = None
        for sign in knob.helps:
            if (index, sign) not in hopeless:
                found = _better(found, _one(scenario, moved, reach, index, sign))
        if found is None:
            helpless.append(knob)
        else:
            repairs.append(found)
    return sorted(repairs, key=lambda repair: repair.relative), helpless


def hopeless_moves(scenario: Scenario, moved: Moved) -> set[tuple[int, int]]:
    """Knobs and directions that leave some broken budget broken however far they go.

    Every budget is monotone in every single quantity, so it is enough to look at the far end, and at two places before
    it in case the far end itself breaks something else.
    """
    titles = {_key(budget) for budget in broken_budgets(moved.staging.problem)}
    if not titles:
        return set()
    hopeless = set()
    for index, knob in enumerate(moved.knobs):
        for sign in knob.helps:
            room = _room(knob, sign)
            still = set(titles)
            for share in (1.0, 0.3, 0.02):
                tried = knob.put(scenario, knob.value + share * room)
                still &= _broken_titles(tried, scenario, moved.staging)
                if not still:
                    break
            if still:
                hopeless.add((index, sign))
    return hopeless


def staged_like(tried: Scenario, base: Scenario, staging: Staging) -> Staging:
    """Stage a changed scenario; geometry is only asked again where the change touches it."""
    return build_staging(tried, staging if same_geometry(tried, base) else None)


def _broken_titles(tried: Scenario, base: Scenario, staging: Staging) -> set[tuple[str, str]]:
    try:
        problem = staged_like(tried, base, staging).problem
        return {_key(budget) for budget in broken_budgets(problem)}
    except ChoreoError:
        return set()


def _key(budget: Budget) -> tuple[str, str]:
    return budget.title, budget.available.what


def _room(knob: Knob, sign: int) -> float:
    """How far a knob may go in a direction, signed and finite."""
    room = (knob.high if sign > 0 else knob.low) - knob.value
    return room if math.isfinite(room) else sign * FAR * knob.size


FAR = 50


def _better(left: Repair | None, right: Repair | None) -> Repair | None:
    if left is None or right is None:
        return left or right
    return min(left, right, key=lambda repair: repair.relative)


def _one(
    scenario: Scenario, moved: Moved, reach: Reach | None, index: int, sign: int
) -> Repair | None:
    knob = moved.knobs[index]
    room = _room(knob, sign)
    if reach is None or room * sign <= 0:
        return None
    cost, low, high = (np.zeros(len(moved.knobs)) for _ in range(3))
    cost[index] = sign / knob.size
    low[index], high[index] = sorted((0.0, room))
    starts = []
    for share in STARTS:
        start = np.zeros(len(moved.knobs))
        start[index] = sign * min(abs(room), share * knob.size)
        starts.append(start)
    found = reach.least(cost, low, high, starts)
    if found is None:
        return None
    return _confirmed(scenario, [(knob, knob.value + float(found.deltas[index]))])


STARTS = (0.1, 0.5, 2.0)


def _confirmed(scenario: Scenario, moves: list[tuple[Knob, float]]) -> Repair | None:
    """Round away from the edge, plan anew, and believe only a verified plan."""
    rounded = [_rounded(knob, value) for knob, value in moves]
    for extra in range(NEWTON):
        tried = scenario
        changes = []
        for (knob, _), (value, step) in zip(moves, rounded, strict=True):
            new = value + extra * step
            tried = knob.put(tried, new)
            changes.append(Change(knob, new))
        if plan_or_none(tried) is not None:
            return Repair(tuple(changes), tuple(value for _, value in moves))
    return None


def _rounded(knob: Knob, value: float) -> tuple[float, float]:
    """The next value that can be set, away from the old one, and the step beyond it."""
    step = STEPS[knob.unit] * (1.0 if value >= knob.value else -1.0)
    # A hair inside the step already counts as on it.
    count = math.ceil((value - HAIR * step) / step)
    return count * step, step


HAIR = 1 / 1000


def plan_or_none(scenario: Scenario) -> Plan | None:
    """Plan; None unless the plan is feasible."""
    try:
        plan = answer(scenario)
    except ChoreoError:
        return None
    return plan if plan.verdict == "feasible" else None


def cheapest_pair(scenario: Scenario, knobs: Sequence[Knob]) -> Repair | None:
    """Give the cheapest two changes together, where no single one helps.

    The least sum of relative moves over all knobs tends to few of them; where it takes more than two, the pairs
    among those are tried.
    """
    moved = moved_by(scenario, knobs)
    if len(moved.knobs) < 2:
        return None
    reach = Reach(moved.staging.problem, np.hstack([moved.directions, -moved.directions]))
    all_of = range(len(moved.knobs))
    found = _least_sum(reach, moved, set(all_of))
    if found is None:
        return None
    used = sorted(found, key=lambda index: -abs(found[index]) / moved.knobs[index].size)[:4]
    best: Repair | None = None
    for first in used:
        for second in [index for index in all_of if index not in used[: used.index(first) + 1]]:
            pair = _least_sum(reach, moved, {first, second})
            if pair is None or len(pair) < 2:
                continue
            moves = [(moved.knobs[i], moved.knobs[i].value + delta) for i, delta in pair.items()]
            size = sum(abs(delta) / moved.knobs[i].size for i, delta in pair.items())
            if best is None or size < best.relative:
                best = _better(best, _confirmed(scenario, moves))
    return best


def _least_sum(reach: Reach, moved: Moved, allowed: set[int]) -> dict[int, float] | None:
    """Deltas of the allowed knobs with the least sum of relative moves; only those that move."""
    count = len(moved.knobs)
    cost, high, start = (np.zeros(2 * count) for _ in range(3))
    for index in allowed:
        knob = moved.knobs[index]
        for offset, sign in ((0, 1), (count, -1)):
            room = ((knob.high if sign > 0 else knob.low) - knob.value) * sign
            if sign in knob.helps and room > 0:
                cost[index + offset] = 1 / knob.size
                high[index + offset] = min(room, 50 * knob.size)
                start[index + offset] = min(high[index + offset], 0.2 * knob.size)
    found = reach.least(cost, np.zeros(2 * count), high, [start, start * 4])
    if found is None:
        return None
    deltas = {i: float(found.deltas[i] - found.deltas[i + count]) for i in allowed}
    return {i: d for i, d in deltas.items() if abs(d) > UNMOVED * moved.knobs[i].size}


@dataclass(frozen=True, slots=True)
class Margin:
    """How far one knob can go in the direction that hurts before no plan is left; binding: not at all."""

    knob: Knob
    value: float | None

    @property
    def binding(self) -> bool:
        return (
            self.value is not None and abs(self.value - self.knob.value) <= BINDING * self.knob.size
        )


BINDING = 1 / 100_000


def margins(scenario: Scenario, knobs: Sequence[Knob]) -> list[Margin]:
    """Give every knob's margin of a feasible scenario, tightest first; value None: no edge in its range."""
    moved = moved_by(scenario, knobs)
    if not moved.knobs:
        return []
    reach = Reach(moved.staging.problem, moved.directions)
    found = []
    for index, knob in enumerate(moved.knobs):
        for sign in {-helps for helps in knob.helps}:
            found.append(_margin(moved, reach, index, sign))
    return sorted(found, key=_tightness)


def _margin(moved: Moved, reach: Reach, index: int, sign: int) -> Margin:
    knob = moved.knobs[index]
    room = _room(knob, sign)
    cost, low, high = (np.zeros(len(moved.knobs)) for _ in range(3))
    cost[index] = -sign / knob.size
    low[index], high[index] = sorted((0.0, room))
    start = np.zeros(len(moved.knobs))
    reached = reach.least(cost, low, high, [start])
    if reached is None:
        return Margin(knob, None)
    delta = float(reached.deltas[index])
    if abs(delta - room) <= UNMOVED * max(knob.size, abs(room)):
        return Margin(knob, None)
    return Margin(knob, knob.value + delta)


def _tightness(margin: Margin) -> float:
    if margin.value is None:
        return math.inf
    return abs(margin.value - margin.knob.value) / margin.knob.size
