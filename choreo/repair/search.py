"""The least change that helps, and the largest that leaves a plan, where speeds or shapes are free: by the solver."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import numpy.typing as npt

from choreo.case import Case, Quantity
from choreo.plans.record import Budget
from choreo.problem import numbers_of, structure_of
from choreo.problem.patience import Patience
from choreo.proof import broken_budgets
from choreo.repair.changes import FAR, Margin, Moves, margin_at, room_of
from choreo.solve import Reach
from choreo.words import ChoreoError
from choreo.words.records import dataclass

Vector = npt.NDArray[np.float64]

# Slopes are differences over this share of a quantity: far above rounding, small against its size.
SLOPE_STEP = 1 / 1000
# Quantities that move less than this part of their size are not moved.
UNMOVED = 1 / 1_000_000
# Moves to start a search from, as shares of the quantity: a little, half of it, twice.
STARTS = (0.1, 0.5, 2.0)
# Sums of moves start from this share of each quantity, then from four times that.
SUM_START = 0.2
# A broken budget is looked at where a quantity goes as far as it may, and at two nearer places, in case the far end
# breaks another budget.
FAR_SHARES = (1.0, 0.3, 0.02)


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


def single_moves(
    case: Case, quantities: Sequence[Quantity], patience: Patience
) -> Iterator[tuple[Quantity, Moves | None]]:
    """Give for each quantity the least move of it alone that works, or None; as long as there is time."""
    moved = moved_by(case, quantities)
    hopeless = hopeless_moves(moved)
    reach: Reach | None = None
    for quantity in quantities:
        if patience.over:
            return
        patience.step(f"looking for what would help: {quantity.name}")
        best: float | None = None
        index = moved.quantities.index(quantity) if quantity in moved.quantities else None
        for sign in quantity.helps if index is not None else ():
            if index is not None and (index, sign) not in hopeless:
                reach = reach or moved.reach()
                best = _nearer(quantity, best, _one(moved, reach, index, sign, patience))
        yield quantity, None if best is None else ((quantity, best),)


def _nearer(quantity: Quantity, one: float | None, other: float | None) -> float | None:
    found = [value for value in (one, other) if value is not None]
    return min(found, key=lambda value: abs(value - quantity.value), default=None)


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
            room = room_of(quantity, sign)
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


def _one(moved: Moved, reach: Reach, index: int, sign: int, patience: Patience) -> float | None:
    quantity = moved.quantities[index]
    room = room_of(quantity, sign)
    if room * sign <= 0:
        return None
    cost, low, high = (np.zeros(len(moved.quantities)) for _ in range(3))
    cost[index] = sign / quantity.size
    low[index], high[index] = sorted((0.0, room))

    def starts() -> Iterator[Vector]:
        for share in STARTS:
            if patience.over:
                return
            start = np.zeros(len(moved.quantities))
            start[index] = sign * min(abs(room), share * quantity.size)
            yield start

    found = reach.least(cost, low, high, starts())
    return None if found is None else quantity.value + float(found.deltas[index])


def pair_moves(case: Case, quantities: Sequence[Quantity], patience: Patience) -> list[Moves]:
    """Give two changes together, cheapest first, where no single one helps.

    The least sum of relative moves over all quantities tends to few of them; where it takes more than two, the pairs
    among those are tried.
    """
    moved = moved_by(case, quantities)
    if len(moved.quantities) < 2 or patience.over:
        return []
    reach = moved.reach(np.hstack([moved.directions, -moved.directions]))
    all_of = range(len(moved.quantities))
    found = _least_sum(reach, moved, set(all_of))
    if found is None:
        return []
    used = sorted(found, key=lambda index: -abs(found[index]) / moved.quantities[index].size)[:4]
    pairs: list[tuple[float, Moves]] = []
    for first in used:
        for second in [index for index in all_of if index not in used[: used.index(first) + 1]]:
            if patience.over:
                break
            pair = _least_sum(reach, moved, {first, second})
            if pair is None or len(pair) < 2:
                continue
            moves = tuple(
                (moved.quantities[i], moved.quantities[i].value + delta)
                for i, delta in pair.items()
            )
            size = sum(abs(delta) / moved.quantities[i].size for i, delta in pair.items())
            pairs.append((size, moves))
    return [moves for _, moves in sorted(pairs, key=lambda one: one[0])]


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


def all_margins(
    case: Case, quantities: Sequence[Quantity], patience: Patience
) -> tuple[tuple[Margin, ...], tuple[str, ...]]:
    """Give every quantity's margin of a feasible scenario, tightest first, and names that were not looked at."""
    moved = moved_by(case, quantities)
    if not moved.quantities:
        return (), ()
    reach = moved.reach()
    found: list[Margin] = []
    for index, quantity in enumerate(moved.quantities):
        if patience.over:
            left = tuple(one.name for one in moved.quantities[index:])
            return tuple(sorted(found, key=lambda margin: margin.tightness)), left
        patience.step(f"looking for the room that is left: {quantity.name}")
        for sign in sorted({-helps for helps in quantity.helps}):
            found.append(_margin(moved, reach, index, sign))
    return tuple(sorted(found, key=lambda margin: margin.tightness)), ()


def _margin(moved: Moved, reach: Reach, index: int, sign: int) -> Margin:
    quantity = moved.quantities[index]
    room = room_of(quantity, sign)
    cost, low, high = (np.zeros(len(moved.quantities)) for _ in range(3))
    cost[index] = -sign / quantity.size
    low[index], high[index] = sorted((0.0, room))
    start = np.zeros(len(moved.quantities))
    reached = reach.least(cost, low, high, [start])
    if reached is None:
        return Margin(quantity, None)
    delta = float(reached.deltas[index])
    if abs(delta - room) <= UNMOVED * max(quantity.size, abs(room)):
        return margin_at(quantity, sign, None)
    return margin_at(quantity, sign, quantity.value + delta)
