"""Why a scenario can't be done: budgets that don't fit."""

from choreo.proof.budgets import broken_budgets, budgets_of
from choreo.proof.conflict import conflict_budget, least_miss
from choreo.proof.parts import halved
from choreo.proof.relaxation import relaxed_rows

__all__ = [
    "broken_budgets",
    "budgets_of",
    "conflict_budget",
    "halved",
    "least_miss",
    "relaxed_rows",
]
