"""Why a scenario can't be done: budgets that don't fit."""

from choreo.explain.budgets import broken_budgets, budgets
from choreo.explain.conflict import conflict_budget
from choreo.explain.relaxation import relaxed_rows

__all__ = ["broken_budgets", "budgets", "conflict_budget", "relaxed_rows"]
