"""Scenarios planned once for the tests of pages and sheets."""

from functools import cache
from pathlib import Path

from choreo.page import page_of, sheet_of
from choreo.plan.record import Plan
from choreo.problem import paths_by_mover
from choreo.scenario import Scenario, load
from choreo.verdict import answer

FOLDER = Path(__file__).resolve().parents[3] / "scenarios"
NAMES = sorted(
    str(file.relative_to(FOLDER).with_suffix(""))
    for part in (FOLDER, FOLDER / "impossible")
    for file in part.glob("*.yaml")
)


@cache
def planned(name: str) -> tuple[Scenario, Plan]:
    """Give a bundled scenario and its answer."""
    scenario = load(FOLDER / f"{name}.yaml")
    return scenario, answer(scenario)


@cache
def page(name: str) -> str:
    """Give the page of a bundled scenario."""
    scenario, plan = planned(name)
    return page_of(scenario, plan, paths_by_mover(scenario))


@cache
def sheet(name: str) -> str:
    """Give the run sheet of a bundled scenario."""
    scenario, plan = planned(name)
    return sheet_of(scenario, plan, paths_by_mover(scenario))
