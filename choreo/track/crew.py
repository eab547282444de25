"""What a crew reads first, worked out of a plan: programmes, places by name, distances between bumpers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from choreo.geometry import Path
from choreo.plans.crew_record import CrewPlan
from choreo.plans.record import Plan
from choreo.scenario import Scenario
from choreo.track.back import way_back
from choreo.track.distances import distances_of
from choreo.track.programmes import programme_of


def crew_of(
    scenario: Scenario, paths: Mapping[str, Path], named: Mapping[str, Path], plan: Plan
) -> CrewPlan:
    """Give the lists of a plan. paths: by mover; named: by their own names."""
    programmes = {
        name: replace(
            programme_of(name, scenario, plan, paths),
            back=way_back(scenario.movers[name], mover, named),
        )
        for name, mover in plan.movers.items()
        if mover.pieces
    }
    return CrewPlan(programmes, distances_of(scenario, paths, plan))
