"""Where there is no plan: do bodies collide in the one that would be there if they could pass through each other?"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from choreo.case.answers import Answer
from choreo.case.glances import combinations_of, places
from choreo.case.record import Case
from choreo.geometry import body_corners
from choreo.linear import chosen, decide
from choreo.plans.fingerprint import fingerprint_of
from choreo.plans.message import Message, messages_of
from choreo.plans.record import Budget, BudgetLine
from choreo.problem import all_given
from choreo.problem.contradictions import depth_m
from choreo.problem.patience import Patience, TimeUp
from choreo.solve import Solved, plan_of, solve_linear
from choreo.verification import Verification, verify
from choreo.words import Finding
from choreo.words.display import seconds

# How deep two lie in each other is looked for so long after they touch (s), in steps (s).
DEPTH_S, DEPTH_STEP_S = 5.0, 0.01
# Whether bodies that could pass through each other had a plan is asked for so long (s of computing).
LOOKED_FOR_S = 5.0
TOUCHES = ("verify.unintended-contact", "verify.early-contact")


def with_collisions(found: Answer) -> Answer:
    """Give an answer without a plan the collisions that leave none, if that is what leaves none."""
    case, plan = found.case, found.plan
    if plan.verdict == "undecided" and plan.verification is not None:
        seen = verify(case.scenario, case.paths, plan)
    else:
        try:
            without = _passing_through(case, Patience(LOOKED_FOR_S))
        except TimeUp:
            without = None
        if without is None:
            return found
        seen = without
    told = _told(case, seen)
    if not told:
        return found
    plan = replace(plan, collisions=told, conflicts=())
    if plan.verdict == "undecided":
        # Marks and times that lead to it must not reach a crew.
        plan = replace(plan, movers={}, triggers={}, encounters={}, instants={})
        if _only_motion(case):
            plan = replace(plan, verdict="infeasible", budgets=(_budget(case, seen),))
    return replace(found, plan=plan)


def _only_motion(case: Case) -> bool:
    """Whether all is given, so that the motion that was simulated is the only one there can be."""
    one_place = combinations_of(case.staging) == 1
    return one_place and not case.scenario.sights and all_given(case.staging.problem)


def _budget(case: Case, seen: Verification) -> Budget:
    """How deep the first two that collide lie in each other: nothing is left to change that."""
    first = _touches(seen)[0]
    a, b = str(first.values["a"]), str(first.values["b"])
    start_s = float(first.values["time_s"])
    times = np.arange(start_s, start_s + DEPTH_S, DEPTH_STEP_S)
    corners = []
    for name in (a, b):
        poses = case.paths[name].pose(seen.motions[name].at(times)[0])
        corners.append(body_corners(case.scenario.movers[name].body.corners_m, poses))
    deepest = max(depth_m(one, other) for one, other in zip(*corners, strict=True))
    room = BudgetLine(f"room between {a} and {b} at most", 0.0, None)
    needs = BudgetLine(f"{a} and {b} lie in each other after {seconds(start_s)}", deepest, None)
    title = f"all is given, and {a} and {b} collide"
    return Budget(title, a, "m", room, (needs,), deepest)


def _passing_through(case: Case, patience: Patience) -> Verification | None:
    """Simulate the linear stage's plan in which nobody keeps clear of anybody; None where there is none either.

    Raises TimeUp.
    """
    solve = patience.limited(solve_linear)
    for staging in places(case.staging):
        decision = decide(staging, {}, solve, freed=chosen(case.staging.problem))
        if decision is not None and decision.reading is not None:
            solved = Solved.reading_of(staging, decision.reading)
            plan = plan_of(case.scenario, solved, fingerprint_of(case.scenario.meaning()))
            return verify(case.scenario, case.paths, plan)
    return None


def _told(case: Case, seen: Verification) -> tuple[Message, ...]:
    """Who collides, when and where, the first first."""
    return messages_of(
        Finding(
            "plan.collision",
            "error",
            case.scenario.origin("movers", str(one.values["a"])),
            {
                "a": one.values["a"],
                "b": one.values["b"],
                "time": seconds(float(one.values["time_s"])),
                "x": f"{float(one.values['x_m']):.2f}",
                "y": f"{float(one.values['y_m']):.2f}",
            },
        )
        for one in _touches(seen)
    )


def _touches(seen: Verification) -> list[Finding]:
    touches = [one for one in seen.findings if one.code in TOUCHES]
    return sorted(touches, key=lambda one: float(one.values["time_s"]))
