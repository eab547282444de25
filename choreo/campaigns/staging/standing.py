"""Obstacles that a sight has moved, stood where a tape finds them."""

from __future__ import annotations

import math
from dataclasses import replace

from choreo.case import Answer, Case, answer_with_sights, survey, with_sights_of
from choreo.plans import Plan
from choreo.scenario import Scenario
from choreo.scenario.records.edits import with_mover

# Obstacles stand at whole multiples of the coarsest of these (m) from where the sight is still as wanted.
ROUND_M = (0.1, 0.05, 0.01)


def standing_round(case: Case, plan: Plan) -> tuple[Case, Plan]:
    """Give a case, and its plan, with obstacles that sights move at round places, and no sight that moves them.

    plan: of the case, feasible. Where the sight isn't as wanted from any round place, obstacles stand where it is.
    """
    if not any(one.moving is not None for one in case.scenario.sights.values()):
        return case, plan
    found = survey(*answer_with_sights(case))
    moved = with_sights_of(case, found.plan)
    if not _as_wanted(found):
        return moved, plan
    for step_m in ROUND_M:
        other = case.changed(_rounded(moved.scenario, step_m))
        again = survey(*answer_with_sights(other))
        if _as_wanted(again):
            return other, replace(again.plan, fingerprint=plan.fingerprint)
    return moved, plan


def _as_wanted(found: Answer) -> bool:
    space = found.plan.space
    if found.plan.verdict != "feasible" or space is None or not space.clear:
        return False
    return all(one.within is not False for one in space.sights)


def _rounded(scenario: Scenario, step_m: float) -> Scenario:
    """The scenario with what sights move at round places along its heading: in x or y, whichever changes more."""
    for name in dict.fromkeys(one.moving for one in scenario.sights.values()):
        mover = None if name is None else scenario.movers[name]
        if name is None or mover is None or mover.stand is None:
            continue
        x_m, y_m, heading_rad = mover.stand
        cos, sin = math.cos(heading_rad), math.sin(heading_rad)
        if abs(cos) >= abs(sin):
            there_m = _round(x_m, step_m)
            stand = (there_m, y_m + (there_m - x_m) * sin / cos, heading_rad)
        else:
            there_m = _round(y_m, step_m)
            stand = (x_m + (there_m - y_m) * cos / sin, there_m, heading_rad)
        scenario = with_mover(scenario, name, replace(mover, stand=stand))
    sights = {name: replace(one, moving=None) for name, one in scenario.sights.items()}
    return replace(scenario, sights=sights)


def _round(place_m: float, step_m: float) -> float:
    return round(round(place_m / step_m) * step_m, 6)
