"""Why a scenario can't be done: budgets that don't fit."""

from choreo.explain.budgets import broken_budgets, budgets

__all__ = ["broken_budgets", "budgets"]
