"""Where there is no plan: do bodies collide in the one that would be there if they could pass through each other?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import partial

from choreo.case.after_gap import collided_after
from choreo.case.answers import Answer
from choreo.case.collided import deepest_m, touches
from choreo.case.glances import ends_of, places, single_place
from choreo.case.in_the_way import in_the_way
from choreo.case.record import Case
from choreo.linear import Ends, chosen, decide
from choreo.plans.fingerprint import fingerprint_of
from choreo.plans.message import Message, messages_of
from choreo.plans.record import Budget, BudgetLine, Plan
from choreo.problem import all_given
from choreo.problem.patience import Patience, TimeUp
from choreo.problem.records import MoverProblem, Ramp, Wait
from choreo.solve import Solved, plan_of, solve_linear
from choreo.verification import Verification, verify
from choreo.words import Finding
from choreo.words.display import quantity, seconds

# Whether bodies that could pass through each other had a plan is asked for so long (s of computing).
LOOKED_FOR_S = 5.0
GIVEN_START = (
    "; a start mark or a launch that is given may be left open instead, for choreo to find"
)


def with_collisions(found: Answer) -> Answer:
    """Give an answer without a plan the collisions that leave none, if that is what leaves none."""
    case, plan = found.case, found.plan
    if any(one.unit == "km/h" for one in plan.budgets):
        return found  # speeds alone say that two never meet: what they do instead is no reason
    if plan.verdict == "undecided" and plan.verification is not None:
        through, seen = plan, verify(case.scenario, case.paths, plan)
    else:
        without = _without(case, {})
        if without is None:
            return found
        through, seen = without
    if any(float(one.values["time_s"]) <= 0.0 for one in touches(seen)):
        # Who is put into another at go by a start that is open need not be: what comes of it later says more.
        later = _without(case, ends_of(case))
        through, seen = later if later is not None and touches(later[1]) else (through, seen)
    told = _told(case, seen, through)
    if not told:
        return found
    plan = replace(plan, collisions=told, conflicts=())
    if plan.verdict == "undecided":
        # Marks and times that lead to it must not reach a crew.
        budgets = _proof(case, seen, through)
        plan = replace(plan, movers={}, triggers={}, encounters={}, instants={})
        if budgets:
            plan = replace(plan, verdict="infeasible", budgets=budgets)
    return replace(found, plan=plan)


def _without(case: Case, ends: Mapping[str, Ends]) -> tuple[Plan, Verification] | None:
    """As _passing_through; None where that takes too long, too."""
    try:
        return _passing_through(case, Patience(LOOKED_FOR_S), ends)
    except TimeUp:
        return None


def _proof(case: Case, seen: Verification, through: Plan) -> tuple[Budget, ...]:
    """What proves that every plan has such a collision, if anything does. through: the plan that `seen` simulates."""
    if _only_motion(case):
        first = touches(seen)[0]
        return (_budget("all is given", first, deepest_m(case, seen, first)),)
    after = collided_after(case, seen, through)
    if after is not None:
        gap, touch, deep_m = after
        return (_budget(f"from the gap {gap} on all is given", touch, deep_m),)
    return _in_the_way(case, seen)


def _only_motion(case: Case) -> bool:
    """Whether all is given, so that the motion that was simulated is the only one there can be."""
    return single_place(case) and all_given(case.staging.problem)


def _in_the_way(case: Case, seen: Verification) -> tuple[Budget, ...]:
    """That the way to rest of one who collides with who stands is too long however it is driven."""
    for one in touches(seen):
        budgets = in_the_way(case, str(one.values["a"]), str(one.values["b"]))
        if budgets:
            return budgets
    return ()


def _budget(given: str, touch: Finding, deep_m: float) -> Budget:
    """How deep two that collide lie in each other (m): nothing is left to change that."""
    a, b = str(touch.values["a"]), str(touch.values["b"])
    room = BudgetLine(f"room between {a} and {b} at most", 0.0, None)
    after = seconds(float(touch.values["time_s"]))
    needs = BudgetLine(f"{a} and {b} lie in each other after {after}", deep_m, None)
    return Budget(f"{given}, and {a} and {b} collide", a, "m", room, (needs,), deep_m)


def _passing_through(
    case: Case, patience: Patience, ends: Mapping[str, Ends]
) -> tuple[Plan, Verification] | None:
    """The linear stage's plan in which nobody keeps clear of anybody, simulated; None where there is none either.

    ends: of the bodies of those that start one behind the other in a lane all the same. Raises TimeUp.
    """
    asking = partial(decide, solve=patience.limited(solve_linear), through=True)
    for staging in places(case.staging):
        room_m = case.scenario.safety.clearance_m if ends else 0.0
        decision = asking(staging, ends, freed=chosen(case.staging.problem), room_m=room_m)
        if decision is not None and decision.reading is not None:
            solved = Solved.reading_of(staging, decision.reading)
            plan = plan_of(case.scenario, solved, fingerprint_of(case.scenario.meaning()))
            return plan, verify(case.scenario, case.paths, plan)
    return None


def _told(case: Case, seen: Verification, plan: Plan) -> tuple[Message, ...]:
    """Who collides, when and where, the first first. plan: in which they do."""
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
                "instead": _instead(case, one, plan),
            },
        )
        for one in touches(seen)
    )


def _instead(case: Case, touch: Finding, plan: Plan) -> str:
    """What else may be changed of two that collide: how they stop if they do, else what is given of their starts."""
    time_s = float(touch.values["time_s"])
    words, given = [], False
    for name in (str(touch.values["a"]), str(touch.values["b"])):
        mover = case.staging.problem.mover(name)
        if not mover.phases:
            continue
        given = given or mover.start.fixed or isinstance(mover.phases[0], Wait)
        brakes = _stopping_mps2(plan, mover, time_s)
        words += [] if brakes is None else [f"{name} brakes at {quantity(brakes, 'm/s2')}"]
    if words:
        return f". On the way to rest {' and '.join(words)} there: write other rates, `stop: {{brake: ...}}`"
    return GIVEN_START if given else ""


def _stopping_mps2(plan: Plan, mover: MoverProblem, time_s: float) -> float | None:
    """What a mover brakes with on its way to rest at a time, or has braked with; None before."""
    stops = {one.name for one in mover.phases if isinstance(one, Ramp) and one.is_stop}
    begun = [
        one
        for one in plan.movers[mover.name].pieces
        if one.phase in stops and one.start_s <= time_s
    ]
    if not begun:
        return None
    stop = next(one for one in mover.phases if isinstance(one, Ramp) and one.is_stop)
    return max(rate for _, rate in stop.table)
