"""Why there is no plan, as budgets: of one mover, of all that can't hold together, against every way to drive."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial

from choreo.case.glances import MOST_PLACES, combinations_of, ends_of, places
from choreo.case.record import Case
from choreo.case.too_tight import too_tight
from choreo.linear import Apart, Early, Excluded, conflict_of, decide, open_shapes
from choreo.plans.record import Budget
from choreo.problem import Staging
from choreo.problem.linear import LinearProblem, Vector
from choreo.problem.records import Problem
from choreo.proof import broken_budgets, conflict_budget, halved, least_miss, relaxed_rows
from choreo.solve import solve_linear

LinearSolver = Callable[[LinearProblem], Vector | None]

# Whether there is a plan that keeps movers of one lane apart at one moment is asked of so many linear problems.
MOST_AT_A_MOMENT = 200
# Ranges of open speeds are cut into so many parts.
MOST_PARTS = 128
# What a budget of one of them is told with.
NEAREST = "(at these speeds it is nearest; at the others that are open it lacks more)"


def proof_of_impossibility(staging: Staging) -> tuple[Budget, ...]:
    """Give budgets that don't fit, if every possible choice of meeting places has one.

    With too many combinations of places to look at there is no proof, hence none is returned.
    """
    return _at_every_place(staging, lambda one: (*broken_budgets(one.problem), *too_tight(one)))


def conflict_anyhow(
    case: Case, apart: tuple[Apart | Early, ...], solve: LinearSolver = solve_linear
) -> tuple[Budget, ...]:
    """Give the budget against every way in which ramps can be driven, if every choice of places has one.

    apart: where movers of one lane came too near in plans at the limits.
    """
    freed, ends = open_shapes(case.staging.problem), ends_of(case)

    def conflict(staging: Staging) -> tuple[Budget, ...]:
        asking = partial(decide, staging, ends, solve, freed=freed, anyhow=True)
        # One moment says it, mostly: all that plans show, asked for together, is much to look through.
        glimpse = asking(once=True, most=MOST_AT_A_MOMENT)
        found = budget_of(glimpse.conflict) if glimpse is not None else ()
        for moment in glimpse.moments if glimpse is not None else ():
            if not found:
                decision = asking(once=True, apart=(moment,), most=MOST_AT_A_MOMENT)
                found = () if decision is None else budget_of(decision.conflict)
        if found or glimpse is None:
            return found
        decision = asking(apart=apart)
        return () if decision is None else budget_of(decision.conflict)

    return _at_every_place(case.staging.loose, conflict)


def general_conflict(staging: Staging, solve: LinearSolver = solve_linear) -> tuple[Budget, ...]:
    """Give a smallest conflict between any number of movers, if every choice of places has one.

    Dearer than the one-mover budgets: asked only when the solver has found nothing.
    """

    def conflict(one: Staging) -> tuple[Budget, ...]:
        budget = conflict_budget(relaxed_rows(one.problem), solve)
        return () if budget is None else (budget,)

    return _at_every_place(staging, conflict)


def conflict_in_parts(staging: Staging, solve: LinearSolver = solve_linear) -> tuple[Budget, ...]:
    """Give a conflict where speeds are open: in every part of their ranges one, told of the part that comes nearest.

    In a small part the bounds of what a ramp loses hardly differ from those of a given speed.
    """
    return _at_every_place(staging, lambda one: _in_parts(one.problem, solve))


def _in_parts(problem: Problem, solve: LinearSolver) -> tuple[Budget, ...]:
    waiting, seen = [problem], 0
    nearest: tuple[float, Problem] | None = None
    while waiting:
        part = waiting.pop()
        seen += 1
        miss = least_miss(relaxed_rows(part), solve)
        if miss > 0.0:
            nearest = (miss, part) if nearest is None or miss < nearest[0] else nearest
            continue
        halves = halved(part, problem)
        if not halves or seen + len(waiting) > MOST_PARTS:
            return ()
        waiting += halves
    if nearest is None:
        return ()
    budget = conflict_budget(relaxed_rows(nearest[1]), solve)
    if budget is None:
        return ()
    return (budget if seen == 1 else replace(budget, title=f"{budget.title} {NEAREST}"),)


def budget_of(conflict: Excluded | None) -> tuple[Budget, ...]:
    """Give a conflict as a budget; none where its rows miss by rounding only."""
    budget = None if conflict is None else conflict_of(conflict, solve_linear)
    return () if budget is None else (budget,)


def _at_every_place(
    staging: Staging, prove: Callable[[Staging], tuple[Budget, ...]]
) -> tuple[Budget, ...]:
    if combinations_of(staging) > MOST_PLACES:
        return ()
    found: tuple[Budget, ...] = ()
    for one in places(staging):
        broken = prove(one)
        if not broken:
            return ()
        found = found or broken
    return found


def impossible(case: Case) -> bool:
    """Whether budgets or rows that hold for every plan say that a case has none.

    Raises ChoreoError: what the case's staging raises.
    """
    loose = case.staging.loose
    return bool(proof_of_impossibility(loose) or general_conflict(loose, solve_linear))
