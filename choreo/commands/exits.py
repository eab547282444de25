"""Exit codes, the same for every command."""

WELL = 0
NO = 1
BAD_INPUT = 2
UNDECIDED = 3
BUG = 70
NOT_WRITTEN = 74

OF_VERDICT = {"feasible": WELL, "infeasible": NO, "undecided": UNDECIDED}
