"""Why a scenario can't be done: budgets that don't fit."""

from choreo.proof.budgets import broken_budgets, budgets_of
from choreo.proof.conflict import conflict_budget
from choreo.proof.relaxation import relaxed_rows

__all__ = ["broken_budgets", "budgets_of", "conflict_budget", "relaxed_rows"]
