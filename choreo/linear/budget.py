"""Rows that can't all hold, shrunk and added up as a budget."""

from __future__ import annotations

from collections.abc import Iterable

from choreo.linear.rows import Row
from choreo.linear.search import Excluded
from choreo.plans.record import Budget
from choreo.proof.conflict import LinearSolver, conflict_budget, least_miss
from choreo.proof.relaxed import RelaxedRow

# A miss is where to look next, no proof: so many ways are compared.
MISSED = 12


def conflict_of(excluded: Excluded, solve: LinearSolver) -> Budget | None:
    """Give a smallest conflict of what comes nearest to a plan, as a budget; None where it misses by rounding only."""
    rows = excluded.nearest(lambda rows: _miss(rows, solve))
    return conflict_budget([_relaxed(row) for row in rows], solve)


def miss_of(excluded: Excluded, solve: LinearSolver) -> float:
    """Give by how much the worst row is missed (m or s) in what comes nearest to a plan, of a few ways to do it."""
    return _miss(excluded.nearest(lambda rows: _miss(rows, solve), MISSED), solve)


def _miss(rows: Iterable[Row], solve: LinearSolver) -> float:
    return least_miss([_relaxed(row) for row in rows], solve)


def _relaxed(row: Row) -> RelaxedRow:
    constant = row.expression.constant
    place = None if row.origin is None else str(row.origin)
    terms = row.expression.terms
    return RelaxedRow(terms, row.lo - constant, row.hi - constant, row.what, row.unit, place)
