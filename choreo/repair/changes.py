"""Changes of quantities that make a scenario feasible: rounded to what a crew can set, and believed once simulated."""

from __future__ import annotations

import math

from choreo.case import Case, Quantity, answer, linear_answer
from choreo.plans.record import Plan
from choreo.problem.patience import Patience, TimeUp
from choreo.words import ChoreoError
from choreo.words.display import KMH_PER_MPS
from choreo.words.kinds import Unit
from choreo.words.records import dataclass

# Values are rounded away from the edge to what a crew can set (SI): 0.01 km/h, 1 mm, 1 ms, 1 mm/s2 and /s3.
STEPS: dict[Unit, float] = {
    "m/s": 0.01 / KMH_PER_MPS,
    "m": 1 / 1000,
    "s": 1 / 1000,
    "m/s2": 1 / 1000,
    "m/s3": 1 / 1000,
}
# Nobody sets what a system takes to act more finely than this (s).
LATENCY_STEP_S = 1 / 100
# An edge is known to this share of a step.
FINE = 1 / 20
# A rounded value that does not hold is moved on by one step that a crew can set, so many times.
NEWTON = 3
# What is over a step by less than this share of it is on it.
HAIR = 1 / 1000
# A quantity that can move by less than this share of its size binds.
BINDING = 1 / 100_000
# A quantity without an end may go so many times its own size.
FAR = 50

# Quantities with the values, in SI, at which a search says that the scenario just works.
Moves = tuple[tuple[Quantity, float], ...]


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


def room_of(quantity: Quantity, sign: int) -> float:
    """How far a quantity may go in a direction, signed and finite."""
    room = (quantity.high if sign > 0 else quantity.low) - quantity.value
    return room if math.isfinite(room) else sign * FAR * quantity.size


def confirmed(
    case: Case,
    moves: Moves,
    *,
    linear: bool = False,
    patience: Patience | None = None,
    tries: int = NEWTON,
) -> Repair | None:
    """Round away from the edge, plan anew, and believe only a verified plan.

    linear: planned by the linear stage alone, which is quick. patience: how long a plan is looked for. tries: steps
    from the rounded values onwards that are tried.
    """
    rounded = [_rounded(quantity, value) for quantity, value in moves]
    for extra in range(tries):
        tried = case
        changes = []
        for (quantity, _), (value, step) in zip(moves, rounded, strict=True):
            new = min(max(value + extra * step, quantity.low), quantity.high)
            tried = tried.with_(quantity, new)
            changes.append(Change(quantity, new))
        if feasible_plan(tried, linear=linear, patience=patience) is not None:
            return Repair(tuple(changes), tuple(value for _, value in moves))
    return None


def _rounded(quantity: Quantity, value: float) -> tuple[float, float]:
    """The next value that can be set, away from the old one, and the step beyond it."""
    size = LATENCY_STEP_S if str(quantity.keys[-1]).endswith("latency") else STEPS[quantity.unit]
    step = size * (1.0 if value >= quantity.value else -1.0)
    # A hair inside the step already counts as on it.
    count = math.ceil((value - HAIR * step) / step)
    return count * step, step


def feasible_plan(
    case: Case, *, linear: bool = False, patience: Patience | None = None
) -> Plan | None:
    """Plan; None unless the plan is feasible. linear: only by the linear stage. patience: how long it looks."""
    try:
        found = linear_answer(case, patience) if linear else answer(case, patience=patience)
    except (ChoreoError, TimeUp):
        return None
    return found.plan if found is not None and found.feasible else None


@dataclass(frozen=True, slots=True)
class Margin:
    """How far one quantity can go in the direction that hurts before no plan is left; binding: not at all.

    value: None where there is no edge in its range. at_limit: the plan goes as far as its mover's own limit.
    open_beyond: it goes so far at least; of what lies beyond nobody knows.
    """

    quantity: Quantity
    value: float | None
    at_limit: bool = False
    open_beyond: bool = False

    @property
    def binding(self) -> bool:
        return (
            not self.open_beyond
            and self.value is not None
            and abs(self.value - self.quantity.value) <= BINDING * self.quantity.size
        )

    @property
    def tightness(self) -> float:
        """The move as a share of the quantity; infinite where there is no edge in its range."""
        if self.value is None:
            return math.inf
        return abs(self.value - self.quantity.value) / self.quantity.size


def margin_at(quantity: Quantity, sign: int, edge: float | None) -> Margin:
    """Give the margin of a quantity from its edge in a direction; what has none there may end at a limit."""
    if edge is None and quantity.capped and sign > 0:
        return Margin(quantity, quantity.high, at_limit=True)
    return Margin(quantity, edge)
