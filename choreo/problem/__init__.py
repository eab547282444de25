"""Scenario -> Problem: events, phases, triggers and encounters as inert records, and their graph."""

from choreo.problem.build import Staging, build_staging, paths_by_mover, same_geometry
from choreo.problem.graph import critical_chain, event_graph, structural_findings
from choreo.problem.numbers import numbers_of, structure_of
from choreo.problem.records import Problem

__all__ = [
    "Problem",
    "Staging",
    "build_staging",
    "critical_chain",
    "event_graph",
    "numbers_of",
    "paths_by_mover",
    "same_geometry",
    "structural_findings",
    "structure_of",
]
