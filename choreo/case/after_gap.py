"""Two whose motion is given from a gap onwards, and who collide then: nothing before it changes that."""

from __future__ import annotations

from collections.abc import Iterator

from choreo.case.collided import DEEP_M, deepest_m, touches
from choreo.case.glances import single_place
from choreo.case.record import Case
from choreo.plans.record import Plan
from choreo.problem.records import GapAt, Hold, MoverProblem, Phase, Ramp, Wait
from choreo.verification import Verification
from choreo.verification.encounters import tolerance_of
from choreo.words import Finding


def collided_after(case: Case, seen: Verification, plan: Plan) -> tuple[str, Finding, float] | None:
    """Give the gap, the collision, and how deep (m) the two lie in each other at least; None where nothing is sure.

    At the gap one of them is at a named place of its path, so that both stations are given; both hold given speeds
    until then, and go on by given rates and lengths. A gap that is off by its tolerance moves one by no more than that,
    and takes no more of how deep they lie in each other. plan: which `seen` simulates.
    """
    if not single_place(case):
        return None
    for gap in _given_gaps(case):
        for touch in touches(seen):
            pair = {str(touch.values["a"]), str(touch.values["b"])}
            before = float(touch.values["time_s"]) < plan.encounters[gap.name].time_s
            if pair != {gap.a, gap.b} or before:
                continue
            deep_m = deepest_m(case, seen, touch) - _tolerance_m(case, gap)
            if deep_m > DEEP_M:
                return gap.name, touch, deep_m
    return None


def _given_gaps(case: Case) -> Iterator[GapAt]:
    problem = case.staging.problem
    for one in problem.encounters:
        if not isinstance(one, GapAt) or not one.wanted.fixed:
            continue
        placed = one.at.kind in ("mark start", "mark end") and one.at.mover in one.pair
        if placed and all(_given_from(problem.mover(name), one) for name in one.pair):
            yield one


def _given_from(mover: MoverProblem, gap: GapAt) -> bool:
    """Whether it holds a given speed until the gap, and all is given after it."""
    ends = [
        index
        for index, phase in enumerate(mover.phases)
        if isinstance(phase, Hold)
        and (phase.lasts_until(gap.name) or phase.until == gap.at)
        and phase.settled_by is None
    ]
    if not ends:
        return not mover.phases
    before = [one for one in mover.phases[: ends[0]] if isinstance(one, Ramp)]
    speed_given = not before or before[-1].to.fixed
    return speed_given and all(_given(one) for one in mover.phases[ends[0] + 1 :])


def _given(phase: Phase) -> bool:
    match phase:
        case Ramp():
            return phase.rated and phase.to.fixed and phase.ends_at_m is None
        case Hold():
            return phase.for_s is not None or phase.for_m is not None
        case Wait():
            return phase.for_s is not None


def _tolerance_m(case: Case, gap: GapAt) -> float:
    tolerance = tolerance_of(case.scenario.encounters[gap.name])
    if gap.measure == "distance":
        return tolerance
    # A time is no more way than at the top speed.
    return tolerance * max(case.staging.problem.mover(name).top_speed_mps for name in gap.pair)
