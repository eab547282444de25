"""Rows that can't all hold, shrunk and added up as a budget."""

from __future__ import annotations

from choreo.linear.rows import Row
from choreo.linear.search import Excluded
from choreo.plans.record import Budget
from choreo.proof.conflict import LinearSolver, conflict_budget, least_miss
from choreo.proof.relaxed import RelaxedRow


def conflict_of(excluded: Excluded, solve: LinearSolver) -> Budget | None:
    """Give a smallest conflict of what comes nearest to a plan, as a budget; None where it misses by rounding only."""
    rows = excluded.nearest(lambda rows: least_miss([_relaxed(row) for row in rows], solve))
    return conflict_budget([_relaxed(row) for row in rows], solve)


def _relaxed(row: Row) -> RelaxedRow:
    constant = row.expression.constant
    place = None if row.origin is None else str(row.origin)
    terms = row.expression.terms
    return RelaxedRow(terms, row.lo - constant, row.hi - constant, row.what, row.unit, place)
