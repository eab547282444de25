"""Pages and sheets of bundled scenarios, each made once."""

from functools import cache

from choreo.page import page_of, sheet_of
from choreo.plans.record import Plan
from choreo.scenario import Scenario
from tests.answers import FOLDER, whole

NAMES = sorted(
    str(file.relative_to(FOLDER).with_suffix(""))
    for part in (FOLDER, FOLDER / "impossible")
    for file in part.glob("*.yaml")
)


__all__ = ["FOLDER", "NAMES", "page", "planned", "sheet", "whole"]


def planned(name: str) -> tuple[Scenario, Plan]:
    """Give a bundled scenario, obstacles where its sights have moved them, and its plan."""
    return whole(name).scenario, whole(name).plan


@cache
def page(name: str) -> str:
    """Give the page of a bundled scenario."""
    found = whole(name)
    return page_of(found.scenario, found.plan, found.paths, found.ground)


@cache
def sheet(name: str) -> str:
    """Give the run sheet of a bundled scenario."""
    found = whole(name)
    return sheet_of(found.scenario, found.plan, found.paths, found.ground)
