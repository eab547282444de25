"""Lines of a budget, and how they add up."""

from __future__ import annotations

import math
from dataclasses import replace

from choreo.plans.record import Budget, BudgetLine
from choreo.problem.records import MoverProblem, Phase, Ramp
from choreo.proof.needs import ramp_distance_m, ramp_words
from choreo.scenario import Span
from choreo.words.origin import Origin


def added(
    title: str, mover: MoverProblem, unit: str, available: BudgetLine, pieces: list[BudgetLine]
) -> Budget:
    """Give the budget of what a mover needs against what there is."""
    short = sum(piece.value for piece in pieces) - available.value
    return Budget(title, mover.name, unit, available, tuple(pieces), short)


def lacking(budget: Budget, *, before_m: float = math.inf, beyond_m: float = math.inf) -> Budget:
    """Say on which stretch what is short would lie: before one station (m), or beyond another."""
    short = budget.short_by
    if math.isfinite(before_m):
        return replace(budget, lacks_m=(before_m - short, before_m))
    if math.isfinite(beyond_m):
        return replace(budget, lacks_m=(beyond_m, beyond_m + short))
    return budget


def ramp_line(speed: Span, ramp: Ramp) -> BudgetLine:
    """Give the least way of a ramp as a line."""
    return need(ramp_words(speed, ramp), ramp_distance_m(speed, ramp), ramp)


def need(what: str, value: float, phase: Phase) -> BudgetLine:
    """Give what a phase needs as a line."""
    return BudgetLine(what, value, where(phase.origin))


def where(origin: Origin | None) -> str | None:
    """Give the place of a line in the scenario file."""
    return None if origin is None else str(origin)
