"""What would help, by how little, and how much room a plan leaves: found by the solver, confirmed by verify."""

from choreo.problem.patience import Patience
from choreo.repair.changes import Change, Margin, Repair
from choreo.repair.explanation import BEST, Explanation, explain, negotiable
from choreo.repair.regions import Region, region
from choreo.repair.rewrite import apply, rewritten

__all__ = [
    "BEST",
    "Change",
    "Explanation",
    "Margin",
    "Patience",
    "Region",
    "Repair",
    "apply",
    "explain",
    "negotiable",
    "region",
    "rewritten",
]
