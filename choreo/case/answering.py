"""Feasible only when an independent simulation agrees, infeasible only with proof, else undecided."""

from __future__ import annotations

import math
from dataclasses import replace

from choreo.case.answers import Answer, Progress
from choreo.case.by_rows import NoPlan, by_rows, rounded, with_pauses
from choreo.case.departures import with_departures
from choreo.case.driven_lines import line_budget, line_left_open, other_line
from choreo.case.left_open import at_will, nothing_free, uninvolved_at_limits
from choreo.case.proving import (
    budget_of,
    conflict_anyhow,
    conflict_in_parts,
    general_conflict,
    proof_of_impossibility,
)
from choreo.case.record import Case
from choreo.case.simulating import planned, simulated
from choreo.case.trying import at_given_speeds
from choreo.plans.fingerprint import fingerprint_of
from choreo.plans.message import Message, messages_of
from choreo.plans.record import PLAN_FORMAT, Budget, Conflict, Plan
from choreo.problem import Staging, structural_findings
from choreo.problem.patience import Patience, TimeUp
from choreo.problem.records import PassAt
from choreo.scenario.records.edits import with_limit
from choreo.solve import (
    Effort,
    Solution,
    Solved,
    ellipse_looks,
    other_attempts,
    solve_linear,
    solve_staging,
)
from choreo.words import ChoreoError, Finding, errors_of
from choreo.words.kinds import Verdict
from choreo.words.records import dataclass

# Linear problems that ramps which pause take before the nonlinear stage is asked: mostly few lead to a plan.
QUICKLY = 1000
# A plan is looked for no longer than this (s of computing) where nobody says how long.
SECONDS = 60.0
# With more looks at ramps in curves than this the nonlinear stage takes minutes to be written, and then mostly fails.
MOST_ELLIPSE_LOOKS = 1000


def patience_of(progress: Progress | None, seconds: float = SECONDS) -> Patience:
    """Give the patience with which a plan is looked for: seconds of computing, whatever else the machine does."""
    return Patience(max(seconds, SECONDS), tell=progress)


def answer(
    case: Case,
    *,
    near: Answer | None = None,
    progress: Progress | None = None,
    patience: Patience | None = None,
) -> Answer:
    """Plan a case and judge the plan; neither sights nor the room it takes are looked at.

    near: the answer of a neighbour to start from. progress: called with a word for each step. patience: how long it
    looks, instead of progress. Returns a plan whose verdict is 'feasible' (solved, and the independent simulation
    agrees), 'infeasible' (a budget that no plan can meet) or 'undecided'. Raises ChoreoError: faults that only geometry
    or the event graph can see.
    """
    patience = patience or patience_of(progress)
    found = _answer(case, patience, near)
    if found.plan.verdict == "infeasible" and (again := _crossed_again(case)):
        return _undecided(found, again)
    unsure = line_left_open(case.scenario) if found.plan.verdict == "infeasible" else []
    if not unsure or line_budget(case.scenario, case.staging):
        return found
    scenario = case.scenario
    for name in unsure:
        scenario = with_limit(scenario, name, "lateral", math.inf)
    if _answer(case.changed(scenario), patience).plan.verdict == "infeasible":
        return found
    # Only the line that was found makes it impossible, and there are others.
    origin = case.scenario.origin("movers", unsure[0])
    values = {"mover": unsure[0], "instead": other_line(case.scenario, unsure[0])}
    return _undecided(found, (Finding("plan.line-open", "warning", origin, values, ()),))


def _undecided(found: Answer, why: tuple[Finding, ...]) -> Answer:
    """The same answer where what made it impossible need not be so."""
    plan = replace(found.plan, verdict="undecided", budgets=())
    return replace(found, plan=replace(plan, warnings=(*messages_of(why), *plan.warnings)))


def _crossed_again(case: Case) -> tuple[Finding, ...]:
    """Tell passes of movers whose paths cross more than once: one zone was looked at, and another may be meant."""
    return tuple(
        Finding("plan.crossed-again", "warning", one.origin, {"encounter": one.name}, ())
        for one in case.staging.problem.encounters
        if isinstance(one, PassAt) and not one.once
    )


def _answer(case: Case, patience: Patience, near: Answer | None = None) -> Answer:
    patience.step("geometry")
    staging = case.staging
    findings = structural_findings(staging.problem)
    errors = errors_of(findings)
    if errors:
        raise ChoreoError(errors)
    warnings = messages_of((*case.scenario.notes, *staging.notes, *findings))
    attempt = _Attempt(case, warnings, patience, near)
    try:
        return attempt.run()
    except TimeUp:
        return attempt.out_of_time()


@dataclass()
class _Attempt:
    """One case that is being answered.

    proof: why there is no plan; at_limits: why there is none with every ramp at its limit.
    """

    case: Case
    warnings: tuple[Message, ...]
    patience: Patience
    near: Answer | None = None
    proof: tuple[Budget, ...] = ()
    at_limits: tuple[Budget, ...] = ()

    def run(self) -> Answer:
        """Give the answer. Raises TimeUp."""
        linear = self._by_rows()
        if isinstance(linear, Answer):
            return linear
        case, staging, patience = self.case, self.case.staging, self.patience
        solve = patience.limited(solve_linear)
        tried = False
        if linear.uneven and not self.proof:
            self.proof = general_conflict(staging.loose, solve)
            tried = not self.proof
            patience.step("pauses")
            found = with_pauses(case, self.warnings, patience, QUICKLY) if tried else None
            if found is not None:
                return found
        patience.step("solve")
        patience.check()
        if ellipse_looks(staging.problem) > MOST_ELLIPSE_LOOKS:
            return self._open("plan.too-many-ramps", {})
        found = None if self.proof or linear.excluded else self._at_limits()
        if found is not None:
            return found
        first = self._solved()
        plan = planned(case, first, self.warnings)
        if first.solution.solved:
            patience.step("verify")
            plan, _ = simulated(case, first, self.warnings)
            if plan.verdict == "feasible":
                proven = linear.excluded is not None
                return Answer(case, with_departures(case, plan, first, proven=proven), first)
        if not self.proof:
            self.proof = () if tried else general_conflict(staging.loose, solve)
            self.proof = self.proof or conflict_in_parts(staging.loose, solve)
        if self.proof:
            return Answer(case, _unsolved(plan, first, self.proof, self.warnings))
        patience.step("other ways")
        found = self._gentle_enough()
        if self.proof:
            return Answer(case, _unsolved(plan, first, self.proof, self.warnings))
        found = found or with_pauses(case, self.warnings, patience)
        found = found or at_given_speeds(case, self.warnings, patience)
        found = found or self._another_way(first, nowhere=linear.nowhere)
        if found is not None:
            return found
        return Answer(
            case, plan if first.solution.solved else _unsolved(plan, first, (), self.warnings)
        )

    def _by_rows(self) -> Answer | NoPlan:
        """What budgets and the linear stage say."""
        case, staging, patience = self.case, self.case.staging, self.patience
        patience.step("budgets")
        self.proof = line_budget(case.scenario, staging) or proof_of_impossibility(staging.loose)
        patience.step("timing")
        if self.proof:
            return rounded(case, self.proof, self.warnings, patience) or NoPlan()
        if staging.problem.prefer == "gentlest ramps" and not nothing_free(staging.problem):
            return NoPlan()
        return self._by_linear_rows()

    def _by_linear_rows(self) -> Answer | NoPlan:
        """What the linear stage says; where it excludes every plan, that is the proof."""
        case, patience = self.case, self.patience
        linear = by_rows(case, self.warnings, patience)
        if isinstance(linear, Answer) or not linear.excluded:
            return linear
        budgets = budget_of(linear.excluded)
        self.proof, self.at_limits = (budgets, ()) if linear.whole else ((), budgets)
        if not linear.whole:
            solve = patience.limited(solve_linear)
            self.proof = conflict_anyhow(case, linear.apart, solve)
        return linear

    def _gentle_enough(self) -> Answer | None:
        """A plan of the linear stage where the gentlest is wanted and wasn't found: it may not be the gentlest.

        Where there is none, it may prove that.
        """
        if self.case.staging.problem.prefer != "gentlest ramps":
            return None
        found = self._by_linear_rows()
        if not isinstance(found, Answer):
            return None
        origin = self.case.scenario.origin("prefer")
        word = messages_of((Finding("plan.not-gentlest", "warning", origin, {}, ()),))
        return replace(found, plan=replace(found.plan, warnings=(*word, *found.plan.warnings)))

    def _at_limits(self) -> Answer | None:
        """The nonlinear stage's plan with every ramp that nobody states at its limit, where the simulation agrees."""
        case, staging = self.case, self.case.staging
        problem = staging.problem
        if problem.prefer == "gentlest ramps" or not at_will(problem):
            return None
        effort = Effort(explain=False, starts=2)
        found = solve_staging(
            staging, case.solvers, near=self._start, effort=effort, at_limits=True
        )
        if not found.solution.solved:
            return None
        plan, _ = simulated(case, found, self.warnings)
        return Answer(case, plan, found) if plan.verdict == "feasible" else None

    @property
    def _start(self) -> Solution | None:
        near = self.near
        return None if near is None or near.solved is None else near.solved.solution

    def _solved(self) -> Solved:
        """The nonlinear stage, in the usual form. With a proof in hand one quick try stays, as a check on the proof."""
        case, staging, proof, start = self.case, self.case.staging, self.proof, self._start
        effort = Effort(explain=False, starts=1) if proof else Effort()
        for quick in self._uninvolved_at_limits():
            found = solve_staging(quick, case.solvers, near=start, effort=Effort(explain=False))
            if found.solution.solved:
                return found
        first = solve_staging(staging, case.solvers, near=start, effort=effort)
        if not first.solution.solved and not proof and staging.problem.loose is not staging.problem:
            self.patience.step("solve, harder than usual")
            self.patience.check()
            harder = solve_staging(staging.loose, case.solvers, near=start, effort=effort)
            return harder if harder.solution.solved else first
        return first

    def _another_way(self, first: Solved, *, nowhere: bool) -> Answer | None:
        """The first plan of another form or place that the simulation agrees with. nowhere: no rows hold."""

        def step(what: str) -> None:
            self.patience.step(what)
            self.patience.check()

        case = self.case
        for staging in (*self._uninvolved_at_limits(), case.staging):
            at = replace(first, staging=staging)
            for solved in other_attempts(at, case.solvers, quick=nowhere, report=step):
                plan, _ = simulated(case, solved, self.warnings)
                if plan.verdict == "feasible":
                    return Answer(case, with_departures(case, plan, solved), solved)
        return None

    def _uninvolved_at_limits(self) -> tuple[Staging, ...]:
        """The staging in which who takes part in nothing drives at its limits, where that is another one."""
        staging = self.case.staging
        problem = uninvolved_at_limits(staging.problem)
        return () if problem is staging.problem else (replace(staging, problem=problem),)

    def out_of_time(self) -> Answer:
        """What is known when the time is up."""
        return self._open("plan.time-up", {"seconds": f"{self.patience.seconds:g}"})

    def _open(self, code: str, values: dict[str, str | float]) -> Answer:
        """What is known where a search ends: a proof, or that there is no plan with ramps at their limits."""
        scenario = self.case.scenario
        origin = scenario.origin("movers")
        word = messages_of((Finding(code, "warning", origin, values, ()),))
        known = tuple(
            Conflict(
                f"with every ramp at its limit: {one.available.what}", one.short_by, one.unit, None
            )
            for one in self.at_limits
        )
        plan = Plan(
            PLAN_FORMAT,
            "infeasible" if self.proof else "undecided",
            scenario.title,
            scenario.prefer,
            fingerprint_of(scenario.meaning()),
            {},
            {},
            {},
            {},
            budgets=self.proof,
            conflicts=known,
            warnings=self.warnings if self.proof else (*word, *self.warnings),
        )
        return Answer(self.case, plan)


def _unsolved(
    plan: Plan, staged: Solved, proof: tuple[Budget, ...], warnings: tuple[Message, ...]
) -> Plan:
    conflicts = tuple(
        Conflict(
            miss.name, miss.amount, miss.unit, None if miss.origin is None else str(miss.origin)
        )
        for miss in staged.solution.misses
    )
    # A motion that breaks rows is no plan: its marks and times must not reach a crew, nor what is odd about it.
    empty = replace(plan, movers={}, triggers={}, encounters={}, instants={}, warnings=warnings)
    verdict: Verdict = "infeasible" if proof else "undecided"
    return replace(empty, verdict=verdict, budgets=proof, conflicts=conflicts)
