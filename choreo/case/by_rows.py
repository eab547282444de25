"""The linear stage's answer: a plan that the simulation agrees with, or why there is none."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

from choreo.case.answers import Answer
from choreo.case.crossings import crossings_of, merging_of
from choreo.case.departures import departed, paused
from choreo.case.easing import SHARE_OF_TOLERANCE, eased
from choreo.case.glances import MOST_PLACES, combinations_of, ends_of, places, with_room
from choreo.case.left_open import all_written, nothing_left
from choreo.case.proving import budget_of
from choreo.case.record import Case
from choreo.case.simulating import simulated
from choreo.linear import (
    MOST_SOLVED,
    SHARES,
    Apart,
    Crossing,
    Decision,
    Early,
    Excluded,
    Merging,
    Pausing,
    chosen,
    decide,
    pausing_of,
    unstated,
)
from choreo.plans.message import Message, messages_of
from choreo.plans.record import Budget
from choreo.problem import Staging
from choreo.problem.patience import Patience, TriedEnough
from choreo.solve import Solved, solve_linear
from choreo.words import Finding
from choreo.words.records import dataclass

# So many pairs that should not meet are asked to pass one after the other.
MOST_CROSSINGS = 4
# ... and an order of those whose ways join is given up after so many linear problems.
MOST_MERGING = 400
# Ramps that pause have many more phases for a time to fall into; a search among them takes so many linear problems,
# and all of them together so many.
MOST_PAUSING, MOST_PAUSING_IN_ALL = 600, 7000
# Plans are told to the millimetre and to the millisecond: what is missed by no more (m, s) is their rounding.
LAST_DIGIT = 1e-3


@dataclass(frozen=True, slots=True)
class NoPlan:
    """No plan of the linear stage: why there is none, or nothing where it can't say.

    whole: every way in which the ramps may be driven was looked at, so it proves. apart: where movers of one lane came
    too near on the way. nowhere: none was found though all places were looked at, proven or not. uneven: nor with even
    ramps of any rate, and nothing in them was passed over.
    """

    excluded: Excluded | None = None
    whole: bool = False
    apart: tuple[Apart | Early, ...] = ()
    nowhere: bool = False
    uneven: bool = False


def linear_answer(case: Case, patience: Patience | None = None) -> Answer | None:
    """Give the answer of a case that the linear stage has a plan for and the simulation agrees with, else None.

    Raises ChoreoError: as answer. TimeUp.
    """
    found = by_rows(case, (), patience or Patience())
    return found if isinstance(found, Answer) else None


def by_rows(case: Case, warnings: tuple[Message, ...], patience: Patience) -> Answer | NoPlan:
    """Every ramp at its given rate, or at its limit: a plan that the simulation agrees with, or why there is none.

    Where an encounter can happen at several places each is tried; without a place that works all must be impossible.
    Where no plan exists, ramps whose rate nobody stated may be gentler, as little as possible.
    """
    problem = case.staging.problem
    open_ramps = unstated(problem)
    # Places that were not looked at prove nothing.
    unsure = combinations_of(case.staging) > MOST_PLACES
    conflict = NoPlan(whole=nothing_left(problem), nowhere=not unsure)
    for staging in places(case.staging):
        found = _decided(case, staging, chosen(problem), warnings, patience, proves=conflict.whole)
        if isinstance(found, Answer):
            return found
        unsure = unsure or found.excluded is None
        conflict = NoPlan(
            conflict.excluded or found.excluded,
            conflict.whole and found.whole,
            conflict.apart + found.apart,
            conflict.nowhere and found.nowhere,
        )
    near = () if unsure else budget_of(conflict.excluded)
    missed = None if unsure else rounded(case, near, warnings, patience)
    if missed is not None:
        return missed
    uneven = bool(open_ramps)
    for staging in places(case.staging) if open_ramps else ():
        freed = open_ramps | chosen(problem)
        found = _decided(case, staging, freed, warnings, patience)
        if isinstance(found, Answer):
            return found
        if _missed_by(budget_of(found.excluded)) <= LAST_DIGIT:
            rounding = _decided(case, eased(case, staging, 0.0), freed, warnings, patience)
            if isinstance(rounding, Answer):
                return rounding
        uneven = uneven and found.nowhere and found.whole
        conflict = replace(conflict, nowhere=conflict.nowhere and found.nowhere)
    conflict = replace(conflict, uneven=conflict.nowhere and uneven)
    return NoPlan(nowhere=conflict.nowhere, uneven=conflict.uneven) if unsure else conflict


def with_pauses(
    case: Case, warnings: tuple[Message, ...], patience: Patience, most: int = MOST_PAUSING_IN_ALL
) -> Answer | None:
    """The answer in which ramps of no stated rate pause, where no even ramp leads to a plan.

    most: linear problems that all ways to pause may take together.
    """
    problem = case.staging.problem
    open_ramps = unstated(problem)
    # A ramp with a jerk limit that might pause is slower than one driven through: one alone may where not all can.
    alone = sorted(open_ramps) if len(open_ramps) > 1 else ()
    ways = (
        (staging, ramps, shares, as_usual)
        for ramps in (open_ramps, *(frozenset({one}) for one in alone))
        for shares in (SHARES if ramps == open_ramps else SHARES[:1])
        # Harder than usual only where the same pauses lead to no plan without.
        for as_usual in ((False,) if problem.loose is problem else (True, False))
        for place in places(case.staging)
        # A start mark's last digit may be what is missing.
        for staging in (place, *([eased(case, place, 0.0)] if ramps != open_ramps else ()))
    )
    patience = patience.counted(most)
    found: Answer | NoPlan | None = None
    try:
        for staging, ramps, shares, as_usual in ways:
            while ramps:
                way = pausing_of(staging, ramps, shares, as_usual=as_usual)
                if not way.pauses:
                    break
                freed = chosen(way.staging.problem)
                asked = _decided(case, staging, freed, warnings, patience, way=way)
                if not isinstance(asked, Answer) or asked.solved is None:
                    break
                # A ramp that might pause and doesn't is slower than one that is driven through.
                found, needed = asked, paused(asked.solved.solution.reading, ramps)
                ramps = needed if needed < ramps else frozenset()
            if isinstance(found, Answer):
                return found
    except TriedEnough:
        pass  # more of them would take minutes and hardly ever lead anywhere
    return found if isinstance(found, Answer) else None


def rounded(
    case: Case, proof: tuple[Budget, ...], warnings: tuple[Message, ...], patience: Patience
) -> Answer | None:
    """The answer that misses its encounters by less than counts: people write rounded numbers.

    It is looked for where all is written, or where nothing is missed by more than a last digit.
    """
    written = all_written(case.staging.problem)
    if not written and _missed_by(proof) > LAST_DIGIT:
        return None
    # A mark's last digit first: what is met elsewhere within a tolerance is met in another way.
    for share in (0.0, SHARE_OF_TOLERANCE):
        for staging in places(case.staging):
            easier, freed = eased(case, staging, share), chosen(case.staging.problem)
            found = _decided(case, easier, freed, warnings, patience)
            if isinstance(found, Answer):
                return found
    return None


def _missed_by(proof: tuple[Budget, ...]) -> float:
    """What a plan lacks most, in m or s; 0 where it isn't known."""
    return max((one.short_by for one in proof), default=0.0)


def _decided(
    case: Case,
    staging: Staging,
    freed: frozenset[tuple[str, int]],
    warnings: tuple[Message, ...],
    patience: Patience,
    *,
    proves: bool = False,
    way: Pausing | None = None,
) -> Answer | NoPlan:
    """One staging: its answer, or that it has none. proves: that there is none counts against every way to drive.

    way: how its ramps pause; freed are ramps of its phases then.
    """
    ends, solve = ends_of(case), patience.limited(solve_linear)
    room_m = case.scenario.safety.clearance_m
    memory = case.searched if way is None else None
    most = MOST_SOLVED if way is None else MOST_PAUSING
    written, pauses = (staging, None) if way is None else (way.staging, way.pauses)
    asking = partial(
        decide, written, ends, solve, freed=freed, memory=memory, pauses=pauses, most=most
    )
    decision = with_room(asking, case)
    if proves and decision is not None and decision.conflict is not None and decision.roomy:
        asked = decision.apart
        decision = decide(staging, ends, solve, freed=freed, exact=True, apart=asked)
    if decision is None:
        return NoPlan()
    if decision.reading is None:
        passed_over, nowhere = decision.passed_over, decision.nowhere
        return NoPlan(decision.conflict, not passed_over, decision.apart, nowhere)
    patience.step("verify")
    reading = decision.reading
    crossings: list[Crossing] = []
    orders: list[tuple[Merging, ...]] = [()]
    apart_m = 0.0
    while True:
        reading = reading if way is None else way.told(reading)
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
        if in_lane:
            apart_m, orders = room_m, list(merging_of(case, verification, reading))
        apart = None
        for merging in orders:
            apart = asking(
                room_m=room_m,
                crossings=crossings,
                apart_m=apart_m,
                merging=merging,
                most=MOST_MERGING if merging else most,
            )
            if apart is None or apart.reading is not None:
                break
        if apart is None or apart.reading is None:
            break
        decision, reading = apart, apart.reading
    return NoPlan()


def _not_least(case: Case, decision: Decision) -> tuple[Finding, ...]:
    if decision.least:
        return ()
    origin = case.scenario.origin("encounters") or case.scenario.origin("movers")
    return (Finding("plan.not-least", "warning", origin, {}, ()),)
