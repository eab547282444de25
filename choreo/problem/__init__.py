"""Scenario -> Problem: events, phases, triggers and encounters as inert records, and their graph."""

from choreo.problem.build import Drawn, Staging, build_staging, draw, paths_by_mover
from choreo.problem.graph import critical_chain, event_graph
from choreo.problem.lateral import with_lateral_goals
from choreo.problem.numbers import numbers_of, structure_of
from choreo.problem.records import Problem
from choreo.problem.structural import all_given, loose_movers, structural_findings

__all__ = [
    "Drawn",
    "Problem",
    "Staging",
    "all_given",
    "build_staging",
    "critical_chain",
    "draw",
    "event_graph",
    "loose_movers",
    "numbers_of",
    "paths_by_mover",
    "structural_findings",
    "structure_of",
    "with_lateral_goals",
]
