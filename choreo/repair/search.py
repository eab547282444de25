"""The least change that helps, and the largest that still leaves a plan: found by the solver, confirmed by verify."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from choreo.case import Case, Quantity, answer
from choreo.plans.record import Budget, Plan
from choreo.problem import numbers_of, structure_of
from choreo.proof import broken_budgets
from choreo.solve import Reach
from choreo.words import ChoreoError
from choreo.words.display import KMH_PER_MPS

Vector = npt.NDArray[np.float64]

# Values are rounded away from the edge to what a crew can set (SI): 0.01 km/h, 1 mm, 1 ms, 1 mm/s2 and /s3.
STEPS = {
    "m/s": 0.01 / KMH_PER_MPS,
    "m": 1 / 1000,
    "s": 1 / 1000,
    "m/s2": 1 / 1000,
    "m/s3": 1 / 1000,
}
# Slopes are differences over this share of a quantity: far above rounding, small against its size.
SLOPE_STEP = 1 / 1000
# A rounded value that does not hold is moved on by one step that a crew can set, so many times.
NEWTON = 3
# Quantities that move less than this part of their size are not moved.
UNMOVED = 1 / 1_000_000
# A quantity without an end may go so many times its own size.
FAR = 50
# Moves to start a search from, as shares of the quantity: a little, half of it, twice.
STARTS = (0.1, 0.5, 2.0)
# Sums of moves start from this share of each quantity, then from four times that.
SUM_START = 0.2
# A broken budget is looked at where a quantity goes as far as it may, and at two nearer places, in case the far end
# breaks another budget.
FAR_SHARES = (1.0, 0.3, 0.02)
# What is over a step by less than this share of it is on it.
HAIR = 1 / 1000
# A quantity that can move by less than this share of its size binds.
BINDING = 1 / 100_000


@dataclass(frozen=True, slots=True)
class Change:
    """One quantity's move, old and new value in SI."""

    quantity: Quantity
    value: float

    @property
    def relative(self) -> float:
        """Size of the move relative to the quantity's own size."""
        return abs(self.value - self.quantity.value) / self.quantity.size


@dataclass(frozen=True, slots=True)
class Repair:
    """One change, or two, that make the scenario feasible; exact: the quantities' values before rounding."""

    changes: tuple[Change, ...]
    exact: tuple[float, ...]

    @property
    def relative(self) -> float:
        return sum(change.relative for change in self.changes)


@dataclass(frozen=True)
class Moved:
    """A case with the directions in which quantities move its problem's numbers; only those that keep the structure."""

    case: Case
    quantities: tuple[Quantity, ...]
    directions: Vector

    def reach(self, directions: Vector | None = None) -> Reach:
        """Give the problem with its numbers set free along the quantities, or other directions made of them."""
        problem = self.case.staging.problem
        along = self.directions if directions is None else directions
        return Reach(self.case.solvers.of(problem), problem, along)


def moved_by(case: Case, quantities: Sequence[Quantity]) -> Moved:
    """Find by differences how each quantity moves the problem's numbers.

    A quantity that changes the structure, or moves nothing, is left out.
    """
    problem = case.staging.problem
    base, structure = np.array(numbers_of(problem)), structure_of(problem)
    kept, columns = [], []
    for quantity in quantities:
        step = SLOPE_STEP * quantity.size
        try:
            other = case.with_(quantity, quantity.value + step).staging.problem
        except ChoreoError:
            continue
        if structure_of(other) != structure:
            continue
        slope = (np.array(numbers_of(other)) - base) / step
        slope[np.abs(slope) < UNMOVED] = 0.0
        if slope.any():
            kept.append(quantity)
            columns.append(slope)
    directions = np.array(columns).T if columns else np.zeros((len(base), 0))
    return Moved(case, tuple(kept), directions)


def single_repairs(
    case: Case, quantities: Sequence[Quantity]
) -> tuple[list[Repair], list[Quantity]]:
    """Give the repairs that work alone, smallest first, and the quantities that can't help alone."""
    moved = moved_by(case, quantities)
    repairs, helpless = (
        [],
        [quantity for quantity in quantities if quantity not in moved.quantities],
    )
    hopeless = hopeless_moves(moved)
    hopeful = [
        i
        for i, quantity in enumerate(moved.quantities)
        if any((i, s) not in hopeless for s in quantity.helps)
    ]
    reach = moved.reach() if hopeful else None
    for index, quantity in enumerate(moved.quantities):
        found = None
        for sign in quantity.helps:
            if (index, sign) not in hopeless:
                found = _better(found, _one(moved, reach, index, sign))
        if found is None:
            helpless.append(quantity)
        else:
            repairs.append(found)
    return sorted(repairs, key=lambda repair: repair.relative), helpless


def hopeless_moves(moved: Moved) -> set[tuple[int, int]]:
    """Knobs and directions that leave some broken budget broken however far they go.

    Every budget is monotone in every single quantity, so it is enough to look at the far end, and at two places before
    it in case the far end itself breaks something else.
    """
    titles = {_key(budget) for budget in broken_budgets(moved.case.staging.problem.loose)}
    if not titles:
        return set()
    hopeless = set()
    for index, quantity in enumerate(moved.quantities):
        for sign in quantity.helps:
            room = _room(quantity, sign)
            still = set(titles)
            for share in FAR_SHARES:
                still &= _broken_titles(moved.case, quantity, quantity.value + share * room)
                if not still:
                    break
            if still:
                hopeless.add((index, sign))
    return hopeless


def _broken_titles(case: Case, quantity: Quantity, value: float) -> set[tuple[str, str]]:
    try:
        problem = case.with_(quantity, value).staging.problem
        return {_key(budget) for budget in broken_budgets(problem.loose)}
    except ChoreoError:
        return set()


def _key(budget: Budget) -> tuple[str, str]:
    return budget.title, budget.available.what


def _room(quantity: Quantity, sign: int) -> float:
    """How far a quantity may go in a direction, signed and finite."""
    room = (quantity.high if sign > 0 else quantity.low) - quantity.value
    return room if math.isfinite(room) else sign * FAR * quantity.size


def _better(left: Repair | None, right: Repair | None) -> Repair | None:
    if left is None or right is None:
        return left or right
    return min(left, right, key=lambda repair: repair.relative)


def _one(moved: Moved, reach: Reach | None, index: int, sign: int) -> Repair | None:
    quantity = moved.quantities[index]
    room = _room(quantity, sign)
    if reach is None or room * sign <= 0:
        return None
    cost, low, high = (np.zeros(len(moved.quantities)) for _ in range(3))
    cost[index] = sign / quantity.size
    low[index], high[index] = sorted((0.0, room))
    starts = []
    for share in STARTS:
        start = np.zeros(len(moved.quantities))
        start[index] = sign * min(abs(room), share * quantity.size)
        starts.append(start)
    found = reach.least(cost, low, high, starts)
    if found is None:
        return None
    return _confirmed(moved.case, [(quantity, quantity.value + float(found.deltas[index]))])


def _confirmed(case: Case, moves: list[tuple[Quantity, float]]) -> Repair | None:
    """Round away from the edge, plan anew, and believe only a verified plan."""
    rounded = [_rounded(quantity, value) for quantity, value in moves]
    for extra in range(NEWTON):
        tried = case
        changes = []
        for (quantity, _), (value, step) in zip(moves, rounded, strict=True):
            new = value + extra * step
            tried = tried.with_(quantity, new)
            changes.append(Change(quantity, new))
        if feasible_plan(tried) is not None:
            return Repair(tuple(changes), tuple(value for _, value in moves))
    return None


def _rounded(quantity: Quantity, value: float) -> tuple[float, float]:
    """The next value that can be set, away from the old one, and the step beyond it."""
    step = STEPS[quantity.unit] * (1.0 if value >= quantity.value else -1.0)
    # A hair inside the step already counts as on it.
    count = math.ceil((value - HAIR * step) / step)
    return count * step, step


def feasible_plan(case: Case) -> Plan | None:
    """Plan; None unless the plan is feasible."""
    try:
        found = answer(case)
    except ChoreoError:
        return None
    return found.plan if found.feasible else None


def cheapest_pair(case: Case, quantities: Sequence[Quantity]) -> Repair | None:
    """Give the cheapest two changes together, where no single one helps.

    The least sum of relative moves over all quantities tends to few of them; where it takes more than two, the pairs
    among those are tried.
    """
    moved = moved_by(case, quantities)
    if len(moved.quantities) < 2:
        return None
    reach = moved.reach(np.hstack([moved.directions, -moved.directions]))
    all_of = range(len(moved.quantities))
    found = _least_sum(reach, moved, set(all_of))
    if found is None:
        return None
    used = sorted(found, key=lambda index: -abs(found[index]) / moved.quantities[index].size)[:4]
    best: Repair | None = None
    for first in used:
        for second in [index for index in all_of if index not in used[: used.index(first) + 1]]:
            pair = _least_sum(reach, moved, {first, second})
            if pair is None or len(pair) < 2:
                continue
            moves = [
                (moved.quantities[i], moved.quantities[i].value + delta)
                for i, delta in pair.items()
            ]
            size = sum(abs(delta) / moved.quantities[i].size for i, delta in pair.items())
            if best is None or size < best.relative:
                best = _better(best, _confirmed(case, moves))
    return best


def _least_sum(reach: Reach, moved: Moved, allowed: set[int]) -> dict[int, float] | None:
    """Deltas of the allowed quantities with the least sum of relative moves; only those that move."""
    count = len(moved.quantities)
    cost, high, start = (np.zeros(2 * count) for _ in range(3))
    for index in allowed:
        quantity = moved.quantities[index]
        for offset, sign in ((0, 1), (count, -1)):
            room = ((quantity.high if sign > 0 else quantity.low) - quantity.value) * sign
            if sign in quantity.helps and room > 0:
                cost[index + offset] = 1 / quantity.size
                high[index + offset] = min(room, FAR * quantity.size)
                start[index + offset] = min(high[index + offset], SUM_START * quantity.size)
    found = reach.least(cost, np.zeros(2 * count), high, [start, start * 4])
    if found is None:
        return None
    deltas = {i: float(found.deltas[i] - found.deltas[i + count]) for i in allowed}
    return {i: d for i, d in deltas.items() if abs(d) > UNMOVED * moved.quantities[i].size}


@dataclass(frozen=True, slots=True)
class Margin:
    """How far one quantity can go in the direction that hurts before no plan is left; binding: not at all."""

    quantity: Quantity
    value: float | None

    @property
    def binding(self) -> bool:
        return (
            self.value is not None
            and abs(self.value - self.quantity.value) <= BINDING * self.quantity.size
        )


def margins(case: Case, quantities: Sequence[Quantity]) -> list[Margin]:
    """Give every quantity's margin of a feasible scenario, tightest first; value None: no edge in its range."""
    moved = moved_by(case, quantities)
    if not moved.quantities:
        return []
    reach = moved.reach()
    found = []
    for index, quantity in enumerate(moved.quantities):
        for sign in {-helps for helps in quantity.helps}:
            found.append(_margin(moved, reach, index, sign))
    return sorted(found, key=_tightness)


def _margin(moved: Moved, reach: Reach, index: int, sign: int) -> Margin:
    quantity = moved.quantities[index]
    room = _room(quantity, sign)
    cost, low, high = (np.zeros(len(moved.quantities)) for _ in range(3))
    cost[index] = -sign / quantity.size
    low[index], high[index] = sorted((0.0, room))
    start = np.zeros(len(moved.quantities))
    reached = reach.least(cost, low, high, [start])
    if reached is None:
        return Margin(quantity, None)
    delta = float(reached.deltas[index])
    if abs(delta - room) <= UNMOVED * max(quantity.size, abs(room)):
        return Margin(quantity, None)
    return Margin(quantity, quantity.value + delta)


def _tightness(margin: Margin) -> float:
    if margin.value is None:
        return math.inf
    return abs(margin.value - margin.quantity.value) / margin.quantity.size
