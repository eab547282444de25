"""Feasible only when an independent simulation agrees, infeasible only with proof, else undecided."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from choreo.case.crossings import crossings_of
from choreo.case.departures import departed, with_departures
from choreo.case.driven_lines import line_budget, line_left_open
from choreo.case.easing import eased
from choreo.case.glances import MOST_PLACES, combinations_of, ends_of, places
from choreo.case.left_open import all_written, nothing_free, nothing_left
from choreo.case.proving import (
    budget_of,
    conflict_anyhow,
    conflict_in_parts,
    general_conflict,
    proof_of_impossibility,
)
from choreo.case.record import Case
from choreo.case.simulating import planned, simulated
from choreo.case.trying import Grid, Place, cost_of, grid_of
from choreo.geometry import Path
from choreo.ground import Ground
from choreo.linear import (
    Apart,
    Crossing,
    Decision,
    Early,
    Excluded,
    chosen,
    decide,
    unstated,
)
from choreo.plans.message import Message, messages_of
from choreo.plans.record import Budget, Conflict, Plan
from choreo.problem import Staging, structural_findings
from choreo.scenario import Scenario
from choreo.scenario.records.edits import with_limit
from choreo.solve import (
    Effort,
    Solved,
    other_attempts,
    solve_linear,
    solve_staging,
)
from choreo.words import ChoreoError, Finding, errors_of
from choreo.words.kinds import Verdict

Progress = Callable[[str], None]
# So many pairs that should not meet are asked to pass one after the other.
MOST_CROSSINGS = 4
# Plans are told to the millimetre and to the millisecond: what is missed by no more (m, s) is their rounding.
LAST_DIGIT = 1e-3


@dataclass(frozen=True)
class Answer:
    """A plan with its verdict, and the case that it answers.

    case: of what was planned in the end, obstacles where sights have moved them. solved: what the solver found, for
    neighbours to start from.
    """

    case: Case
    plan: Plan
    solved: Solved | None = None

    @property
    def scenario(self) -> Scenario:
        """The scenario as planned, with the limits that its ground leaves."""
        return self.case.scenario

    @property
    def ground(self) -> Ground | None:
        """The ground that it was planned on."""
        return self.case.ground

    @property
    def paths(self) -> Mapping[str, Path]:
        """Paths by mover."""
        return self.case.paths

    @property
    def feasible(self) -> bool:
        """Whether the plan holds, its room not asked."""
        return self.plan.verdict == "feasible"

    @property
    def clear(self) -> bool:
        """Whether the plan holds and no check of its room fails; a plan whose room was not looked at is not clear."""
        return self.feasible and self.plan.space is not None and self.plan.space.clear


def answer(case: Case, *, near: Answer | None = None, progress: Progress | None = None) -> Answer:
    """Plan a case and judge the plan; neither sights nor the room it takes are looked at.

    near: the answer of a neighbour to start from. progress: called with a word for each step. Returns a plan whose
    verdict is 'feasible' (solved, and the independent simulation agrees), 'infeasible' (a budget that no plan can meet)
    or 'undecided'. Raises ChoreoError: faults that only geometry or the event graph can see.
    """
    found = _answer(case, near=near, progress=progress)
    unsure = line_left_open(case.scenario) if found.plan.verdict == "infeasible" else []
    if not unsure or line_budget(case.scenario, case.staging):
        return found
    scenario = case.scenario
    for name in unsure:
        scenario = with_limit(scenario, name, "lateral", math.inf)
    if _answer(case.changed(scenario)).plan.verdict == "infeasible":
        return found
    # Only the line that was found makes it impossible, and there are others.
    origin = case.scenario.origin("movers", unsure[0])
    word = messages_of((Finding("plan.line-open", "warning", origin, {"mover": unsure[0]}, ()),))
    plan = replace(found.plan, verdict="undecided", budgets=())
    return replace(found, plan=replace(plan, warnings=(*word, *plan.warnings)))


def _answer(case: Case, *, near: Answer | None = None, progress: Progress | None = None) -> Answer:
    report = progress or (lambda _step: None)
    report("geometry")
    staging = case.staging
    findings = structural_findings(staging.problem)
    errors = errors_of(findings)
    if errors:
        raise ChoreoError(errors)
    warnings = messages_of((*case.scenario.notes, *staging.notes, *findings))
    report("budgets")
    proof = proof_of_impossibility(staging.loose) or line_budget(case.scenario, staging)
    report("timing")
    rounded = _rounded(case, proof, warnings, report) if proof else None
    if rounded is not None:
        return rounded
    nowhere = False
    if not proof:
        gentlest = staging.problem.prefer == "gentlest ramps" and not nothing_free(staging.problem)
        linear = _NoPlan() if gentlest else _linear(case, warnings, report)
        if isinstance(linear, Answer):
            return linear
        nowhere = linear.nowhere
        if linear.excluded:
            proof = (
                budget_of(linear.excluded) if linear.whole else conflict_anyhow(case, linear.apart)
            )
    report("solve")
    # With a proof in hand one quick try stays, as a check on the proof.
    effort = Effort(explain=False, starts=1) if proof else Effort()
    start = None if near is None or near.solved is None else near.solved.solution
    first = solve_staging(staging, case.solvers, near=start, effort=effort)
    if not first.solution.solved and not proof and staging.problem.loose is not staging.problem:
        report("solve, harder than usual")
        harder = solve_staging(staging.loose, case.solvers, near=start, effort=effort)
        if harder.solution.solved:
            first = harder
    plan = planned(case, first, warnings)
    if first.solution.solved:
        report("verify")
        plan, _ = simulated(case, first, warnings)
        if plan.verdict == "feasible":
            return Answer(case, with_departures(case, plan, first), first)
    proof = proof or general_conflict(staging.loose) or conflict_in_parts(staging.loose)
    if proof:
        return Answer(case, _unsolved(plan, first, proof))
    report("other ways")
    found = _at_given_speeds(case, warnings)
    found = found or _another_way(case, first, warnings, report, nowhere=nowhere)
    if found is not None:
        return found
    return Answer(case, plan if first.solution.solved else _unsolved(plan, first, ()))


@dataclass(frozen=True, slots=True)
class _NoPlan:
    """No plan of the linear stage: why there is none, or nothing where it can't say.

    whole: every way in which the ramps may be driven was looked at, so it proves. apart: where movers of one lane came
    too near on the way. nowhere: none was found though all places were looked at, proven or not.
    """

    excluded: Excluded | None = None
    whole: bool = False
    apart: tuple[Apart | Early, ...] = ()
    nowhere: bool = False


def linear_answer(case: Case) -> Answer | None:
    """Give the answer of a case that the linear stage has a plan for and the simulation agrees with, else None.

    Raises ChoreoError: as answer.
    """
    found = _linear(case, (), lambda _step: None)
    return found if isinstance(found, Answer) else None


def _linear(case: Case, warnings: tuple[Message, ...], report: Progress) -> Answer | _NoPlan:
    """Every ramp at its given rate, or at its limit: a plan that the simulation agrees with, or why there is none.

    Where an encounter can happen at several places each is tried; without a place that works all must be impossible.
    Where no plan exists, ramps whose rate nobody stated may be gentler, as little as possible.
    """
    problem = case.staging.problem
    open_ramps = unstated(problem)
    # Places that were not looked at prove nothing.
    unsure = combinations_of(case.staging) > MOST_PLACES
    conflict = _NoPlan(whole=nothing_left(problem), nowhere=not unsure)
    for staging in places(case.staging):
        found = _decided(case, staging, chosen(problem), warnings, report, proves=conflict.whole)
        if isinstance(found, Answer):
            return found
        unsure = unsure or found.excluded is None
        conflict = _NoPlan(
            conflict.excluded or found.excluded,
            conflict.whole and found.whole,
            conflict.apart + found.apart,
            conflict.nowhere and found.nowhere,
        )
    near = () if unsure else budget_of(conflict.excluded)
    rounded = None if unsure else _rounded(case, near, warnings, report)
    if rounded is not None:
        return rounded
    for staging in places(case.staging) if open_ramps else ():
        found = _decided(case, staging, open_ramps | chosen(problem), warnings, report)
        if isinstance(found, Answer):
            return found
        conflict = replace(conflict, nowhere=conflict.nowhere and found.nowhere)
    return _NoPlan(nowhere=conflict.nowhere) if unsure else conflict


def _rounded(
    case: Case, proof: tuple[Budget, ...], warnings: tuple[Message, ...], report: Progress
) -> Answer | None:
    """The answer that misses its encounters by less than counts: people write rounded numbers.

    It is looked for where all is written, or where nothing is missed by more than a last digit.
    """
    written = all_written(case.staging.problem)
    missed = max((one.short_by for one in proof), default=0.0)
    for staging in places(case.staging) if written or missed <= LAST_DIGIT else ():
        found = _decided(case, eased(case, staging), chosen(case.staging.problem), warnings, report)
        if isinstance(found, Answer):
            return found
    return None


def _decided(
    case: Case,
    staging: Staging,
    freed: frozenset[tuple[str, int]],
    warnings: tuple[Message, ...],
    report: Progress,
    *,
    proves: bool = False,
) -> Answer | _NoPlan:
    """One staging: its answer, or that it has none. proves: that there is none counts against every way to drive."""
    ends = ends_of(case)
    # Movers that start in one lane keep the clearance that is asked for, where that leaves a plan.
    room_m = case.scenario.safety.clearance_m
    decision = decide(staging, ends, solve_linear, freed=freed, room_m=room_m)
    if decision is not None and decision.reading is None and decision.spaced:
        decision = decide(staging, ends, solve_linear, freed=freed)
    if proves and decision is not None and decision.conflict is not None and decision.roomy:
        asked = decision.apart
        decision = decide(staging, ends, solve_linear, freed=freed, exact=True, apart=asked)
    if decision is None:
        return _NoPlan()
    if decision.reading is None:
        passed_over, nowhere = decision.passed_over, decision.nowhere
        return _NoPlan(decision.conflict, not passed_over, decision.apart, nowhere)
    report("verify")
    reading = decision.reading
    crossings: list[Crossing] = []
    apart_m = 0.0
    while True:
        solved = Solved.reading_of(staging, reading)
        plan, verification = simulated(case, solved, warnings)
        if plan.verdict == "feasible":
            changed = messages_of((*departed(staging, reading), *_not_least(case, decision)))
            return Answer(case, replace(plan, warnings=(*changed, *plan.warnings)), solved)
        more = crossings_of(case, verification, room_m)
        in_lane = len(verification.touching) > len(more) and not apart_m
        if not verification.touching or not (more or in_lane) or len(crossings) >= MOST_CROSSINGS:
            break
        crossings += more
        apart_m = room_m if in_lane else apart_m
        apart = decide(
            staging,
            ends,
            solve_linear,
            freed=freed,
            room_m=room_m,
            crossings=crossings,
            apart_m=apart_m,
        )
        if apart is None or apart.reading is None:
            break
        reading = apart.reading
    return _NoPlan()


def _not_least(case: Case, decision: Decision) -> tuple[Finding, ...]:
    if decision.least:
        return ()
    origin = case.scenario.origin("encounters") or case.scenario.origin("movers")
    return (Finding("plan.not-least", "warning", origin, {}, ()),)


def _another_way(
    case: Case, first: Solved, warnings: tuple[Message, ...], report: Progress, *, nowhere: bool
) -> Answer | None:
    """The first plan of another form or place that the simulation agrees with. nowhere: the linear stage has none."""
    for solved in other_attempts(first, case.solvers, quick=nowhere, report=report):
        plan, _ = simulated(case, solved, warnings)
        if plan.verdict == "feasible":
            return Answer(case, with_departures(case, plan, solved), solved)
    return None


def _at_given_speeds(case: Case, warnings: tuple[Message, ...]) -> Answer | None:
    """The best plan of some values of open speeds, each decided by the linear stage; told that it may not be least."""
    grid = grid_of(case)
    if grid is None:
        return None
    seen: set[Place] = set()
    best: _AtSpeeds | None = None
    for place in grid.places(grid.stride):
        best = _better(grid, place, seen, best, warnings)
    if best is None:
        for place in grid.places(1):
            best = _better(grid, place, seen, best, warnings)
    stride = grid.stride // 2
    while best is not None and stride > 0:
        for place in grid.beside(best.place, stride):
            best = _better(grid, place, seen, best, warnings)
        stride //= 2
    if best is None:
        return None
    origin = case.scenario.origin("movers")
    word = messages_of((Finding("plan.tried-speeds", "warning", origin, {}, ()),))
    plan = best.answer.plan
    return replace(best.answer, plan=replace(plan, warnings=(*word, *plan.warnings)))


@dataclass(frozen=True, slots=True)
class _AtSpeeds:
    """An answer at some values of open speeds, and what it costs."""

    place: Place
    cost: float
    answer: Answer


def _better(
    grid: Grid,
    place: Place,
    seen: set[Place],
    best: _AtSpeeds | None,
    warnings: tuple[Message, ...],
) -> _AtSpeeds | None:
    """The answer at a place of the grid where it is better than the best so far, else that."""
    if place in seen:
        return best
    seen.add(place)
    case = grid.case
    try:
        found = linear_answer(grid.at(place))
    except ChoreoError:  # a speed at which something in the file makes no sense
        return best
    if found is None or found.solved is None:
        return best
    cost = cost_of(found.plan, case.scenario.prefer)
    if best is not None and cost >= best.cost:
        return best
    plan, _ = simulated(case, found.solved, warnings)
    if plan.verdict != "feasible":
        return best
    return _AtSpeeds(place, cost, Answer(case, plan, found.solved))


def _unsolved(plan: Plan, staged: Solved, proof: tuple[Budget, ...]) -> Plan:
    conflicts = tuple(
        Conflict(
            miss.name, miss.amount, miss.unit, None if miss.origin is None else str(miss.origin)
        )
        for miss in staged.solution.misses
    )
    # A motion that breaks rows is no plan: its marks and times must not reach a crew.
    empty = replace(plan, movers={}, triggers={}, encounters={}, instants={})
    verdict: Verdict = "infeasible" if proof else "undecided"
    return replace(empty, verdict=verdict, budgets=proof, conflicts=conflicts)
