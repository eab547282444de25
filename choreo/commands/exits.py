"""Exit codes, the same for every command."""

from __future__ import annotations

from choreo.words.kinds import Verdict

WELL = 0
NO = 1
BAD_INPUT = 2
UNDECIDED = 3
BUG = 70
NOT_WRITTEN = 74
INTERRUPTED = 130

OF_VERDICT = {"feasible": WELL, "infeasible": NO, "undecided": UNDECIDED}


def code_of(verdict: Verdict, *, fails_checks: bool) -> int:
    """Give the exit code of a plan: its verdict's, or that of a failed check where it must not be run."""
    return NO if fails_checks else OF_VERDICT[verdict]
