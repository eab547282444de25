"""Exit codes, the same for every command."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from choreo.plans.record import Plan

WELL = 0
NO = 1
BAD_INPUT = 2
UNDECIDED = 3
BUG = 70
NOT_WRITTEN = 74
INTERRUPTED = 130

OF_VERDICT = {"feasible": WELL, "infeasible": NO, "undecided": UNDECIDED}


def code_of(plan: Plan) -> int:
    """Give the exit code of a plan: its verdict's, or that of a failed check where it must not be run."""
    if plan.fails_checks:
        return NO
    return OF_VERDICT[plan.verdict]
