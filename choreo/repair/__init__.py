"""What would help, by how little, and how much room a plan leaves: found by the solver, confirmed by verify."""

from choreo.repair.explanation import Explanation, explain, negotiable
from choreo.repair.regions import Region, region
from choreo.repair.rewrite import apply
from choreo.repair.search import Change, Margin, Repair

__all__ = [
    "Change",
    "Explanation",
    "Margin",
    "Region",
    "Repair",
    "apply",
    "explain",
    "negotiable",
    "region",
]
