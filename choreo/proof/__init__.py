"""Why a scenario can't be done: budgets that don't fit."""

from choreo.proof.budgets import ROUNDING, broken_budgets, budgets_of, least_way
from choreo.proof.conflict import conflict_budget, least_miss
from choreo.proof.parts import halved
from choreo.proof.relaxation import relaxed_rows

__all__ = [
    "ROUNDING",
    "broken_budgets",
    "budgets_of",
    "conflict_budget",
    "halved",
    "least_miss",
    "least_way",
    "relaxed_rows",
]
