"""Someone who stands in the way of a programme that is too long to end before it: no start, rate or launch helps."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from choreo.case.collided import DEEP_M
from choreo.case.driven_lines import line_left_open
from choreo.case.glances import single_place
from choreo.case.record import Case
from choreo.geometry import body_corners
from choreo.plans.record import Budget, BudgetLine
from choreo.problem.contradictions import depths_m
from choreo.proof import ROUNDING, least_way
from choreo.scenario import Contact
from choreo.words.origin import Origin

# Stations in so small steps (m) are asked; a collision that none of them has proves nothing.
STEP_M = 0.05
# From the last of them without a collision to the first with one is halved so often.
HALVINGS = 20


def in_the_way(case: Case, one: str, other: str) -> tuple[Budget, ...]:
    """Give the budget that says by how much one's least way is longer than what is free before the other.

    Either of them may be the one that stands. None where nobody stands, where the one that moves may start and end
    beyond it, where it is one of a contact, after which it is not asked where it goes, or where ground or a line that
    choreo found itself is what decides.
    """
    scenario = case.scenario
    lowered = case.on_site.lowered and not case.on_site.alike
    if lowered or line_left_open(scenario) or not single_place(case):
        return ()
    met = {
        name
        for asked in scenario.encounters.values()
        if isinstance(asked, Contact)
        for name in (asked.of, asked.with_)
    }
    for name, standing in ((one, other), (other, one)):
        moves, stands = scenario.movers[name].programme, not scenario.movers[standing].programme
        if name not in met and moves and stands:
            return _budget(case, name, standing)
    return ()


def _budget(case: Case, name: str, standing: str) -> tuple[Budget, ...]:
    mover = case.staging.loose.problem.mover(name)
    start, pieces = mover.start, least_way(mover)
    way_m = sum(piece.value for piece in pieces)
    ends_m = start.lo + way_m
    latest_m = mover.room.hi - way_m
    # Any start lies before what is asked, any end beyond it: it is driven through.
    touches_m = _first_touch_m(case, name, standing, min(start.hi, latest_m), ends_m)
    if start.lo > latest_m or touches_m is None or ends_m - touches_m <= ROUNDING:
        return ()
    room = BudgetLine(
        f"from its start to {standing}", touches_m - start.lo, _place(mover.start_origin)
    )
    title = f"{name} can't come to rest before {standing}, which stands in its way"
    if start.hi > latest_m:
        title += ", and beyond it its path is too short"
    budget = Budget(title, name, "m", room, tuple(pieces), ends_m - touches_m)
    return (replace(budget, lacks_m=(touches_m, ends_m)),)


def _first_touch_m(
    case: Case, name: str, standing: str, low_m: float, high_m: float
) -> float | None:
    """The first station in m from low_m to high_m at which a mover is in one that stands; None where it never is."""
    if not (math.isfinite(low_m) and math.isfinite(high_m)) or high_m < low_m:
        return None
    movers, where = case.scenario.movers, case.staging.problem.mover(standing).start
    if not where.fixed:
        return None
    stands = body_corners(
        movers[standing].body.corners_m, case.paths[standing].pose(np.array([where.lo]))
    )
    # Beyond its path nothing is known.
    high_m = min(high_m, case.paths[name].length_m)

    def inside(stations_m: np.ndarray) -> np.ndarray:
        poses = case.paths[name].pose(stations_m)
        corners = body_corners(movers[name].body.corners_m, poses)
        return depths_m(corners, stands) > DEEP_M

    asked = np.append(np.arange(low_m, high_m, STEP_M), high_m)
    touching = inside(asked)
    if not touching.any():
        return None
    first = int(touching.argmax())
    clear, touches = float(asked[max(first - 1, 0)]), float(asked[first])
    for _ in range(HALVINGS if first else 0):
        middle = (clear + touches) / 2.0
        clear, touches = (clear, middle) if inside(np.array([middle]))[0] else (middle, touches)
    return touches


def _place(origin: Origin | None) -> str | None:
    return None if origin is None else str(origin)
