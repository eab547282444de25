"""The linear stage: given rates and speeds, a problem is decided exactly.

Read in this order: affine (sums of unknowns), profile (ramps of which nothing is left to choose), rows, curves (what
is not linear, between straight lines), model (a problem as rows), cornering and lanes (choices that limits and lanes
make), merging, spots, search (branch and bound), again (beside a neighbour's), reading (a solution's numbers), budget,
stage (all).
"""

from choreo.linear.again import Memory
from choreo.linear.budget import conflict_of, miss_of
from choreo.linear.crossings import Crossing
from choreo.linear.firsts import Early
from choreo.linear.lanes import Apart, Ends
from choreo.linear.merging import Merging
from choreo.linear.pausing import SHARES, Pausing, pausing_of
from choreo.linear.records import NotLinear
from choreo.linear.search import MOST_SOLVED, Excluded
from choreo.linear.stage import Decision, chosen, decide, open_shapes, unstated
from choreo.linear.starts import start_range

__all__ = [
    "MOST_SOLVED",
    "SHARES",
    "Apart",
    "Crossing",
    "Decision",
    "Early",
    "Ends",
    "Excluded",
    "Memory",
    "Merging",
    "NotLinear",
    "Pausing",
    "chosen",
    "conflict_of",
    "decide",
    "miss_of",
    "open_shapes",
    "pausing_of",
    "start_range",
    "unstated",
]
