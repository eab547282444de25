"""Rows that can't all hold, shrunk and added up as a budget."""

from __future__ import annotations

from collections.abc import Iterable

from choreo.linear.rows import Row
from choreo.plans.record import Budget
from choreo.proof.conflict import LinearSolver, conflict_budget
from choreo.proof.relaxed import RelaxedRow


def conflict_of(rows: Iterable[Row], solve: LinearSolver) -> Budget | None:
    """Give a smallest conflict among rows as a budget; None where they miss by rounding only."""
    return conflict_budget([_relaxed(row) for row in rows], solve)


def _relaxed(row: Row) -> RelaxedRow:
    constant = row.expression.constant
    place = None if row.origin is None else str(row.origin)
    terms = row.expression.terms
    return RelaxedRow(terms, row.lo - constant, row.hi - constant, row.what, row.unit, place)
