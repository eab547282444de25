"""Budgets of two speeds: who is to run into another in its lane, or to have a time to collision, must be faster."""

from __future__ import annotations

from collections.abc import Iterator

from choreo.plans.record import Budget, BudgetLine
from choreo.problem.records import ContactTrack, GapAt, Hold, MoverProblem, Problem
from choreo.proof.lines import added, where
from choreo.proof.speeds import speed_before
from choreo.scenario import Event, Span
from choreo.words.display import KMH_PER_MPS

# Speeds that differ by less than this share are the same, and who is as fast as another never comes nearer; it lacks
# the last digit (km/h) in which speeds are told.
SAME_RATIO = 1e-6
LAST_DIGIT_KMH = 0.01


def closing_budgets(problem: Problem) -> Iterator[Budget]:
    """Give the budget of each pair that should close at speeds that are known there, fitting or not."""
    for one in problem.encounters:
        if not isinstance(one, (ContactTrack, GapAt)) or not one.exact or one.slope <= 0.0:
            continue
        if isinstance(one, GapAt) and one.measure != "time to collision":
            continue
        behind, ahead = (problem.mover(name) for name in one.pair)
        at = one.at if isinstance(one, GapAt) else Event("encounter", one.name)
        fast, slow = _held(behind, at), _held(ahead, at)
        if fast is None or slow is None:
            continue
        comes_mps = one.slope * slow.lo
        same = abs(comes_mps - fast.hi) <= SAME_RATIO * fast.hi and fast.fixed and slow.fixed
        title = (
            f"{one.a} is no faster than {one.b}, so that it never comes nearer before {one.name}"
        )
        place = where(one.origin)
        room = BudgetLine(f"{one.a} at {one.name}", fast.hi * KMH_PER_MPS, place)
        needs = [BudgetLine(f"{one.b} at {one.name}", comes_mps * KMH_PER_MPS, place)]
        if same:
            needs.append(BudgetLine("faster by more than", LAST_DIGIT_KMH, None))
        yield added(title, behind, "km/h", room, needs)


def _held(mover: MoverProblem, at: Event) -> Span | None:
    """The speed at which a mover surely is for a time before an event; None where that isn't known."""
    if not mover.phases:
        return Span.at(0.0)
    for index, phase in enumerate(mover.phases):
        if isinstance(phase, Hold) and phase.settle_s > 0 and phase.until == at:
            return speed_before(mover, index)
    return None
