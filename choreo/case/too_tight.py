"""Named pieces of a path that are tighter than what a mover holds on them, by the path itself."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from choreo.geometry.banks import counted_per_m
from choreo.plans.record import Budget
from choreo.problem import Staging
from choreo.problem.records import (
    ContactPoint,
    ContactTrack,
    GapAt,
    Hold,
    MoverProblem,
    Problem,
)
from choreo.proof import ROUNDING
from choreo.proof.holds import begins_by, mark_label, too_fast
from choreo.proof.speeds import speed_before
from choreo.scenario import Event

# A path is looked at every so many metres, at no more places than this.
STEP_M = 0.25
MOST_LOOKS = 4000


def too_tight(staging: Staging) -> tuple[Budget, ...]:
    """Give the budgets of holds over named pieces that are too fast for them, as far as they surely last.

    Problems carry a path's bends thinned out, which says where a plan is careful and proves nothing.
    """
    found = [
        budget
        for mover in staging.problem.movers
        for index, hold in enumerate(mover.phases)
        if isinstance(hold, Hold) and hold.until is not None
        for budget in _broken(staging, mover, index, hold, hold.until)
    ]
    return tuple(found)


def _broken(
    staging: Staging, mover: MoverProblem, index: int, hold: Hold, until: Event
) -> Iterator[Budget]:
    most_per_m = max((point.curvature_per_m for point in mover.curve), default=0.0)
    speed = speed_before(mover, index + 1).lo
    if speed**2 * most_per_m <= mover.lateral_mps2:
        return
    driven = _driven(staging.problem, mover, index, hold, until)
    if driven is None:
        return
    begins_m, ends_m, label = driven
    path = staging.paths[mover.name]
    low, high = max(begins_m, 0.0), min(ends_m, path.length_m)
    if low > high:
        return
    looks = np.linspace(low, high, min(math.ceil((high - low) / STEP_M) + 1, MOST_LOOKS))
    own = np.abs(path.pose(looks).curvature_per_m)
    counted = counted_per_m(path, looks, own, mover.lateral_mps2)
    tightest = int(counted.argmax())
    bend = (float(counted[tightest]), float(looks[tightest]))
    for budget in too_fast(mover, index, bend, (begins_m, ends_m), label):
        if budget.short_by > ROUNDING:
            yield budget


def _driven(
    problem: Problem, mover: MoverProblem, index: int, hold: Hold, until: Event
) -> tuple[float, float, str] | None:
    """Give the stations (m) between which a mover surely drives a hold, and what is at the second one in words."""
    ends_m = mover.mark_station(until)
    if ends_m is not None:
        return begins_by(mover, index, ends_m), ends_m, mark_label(until)
    settled_m = None if hold.settled_by is None else mover.mark_station(hold.settled_by)
    passed = max(_passed(problem, mover, until), default=None)
    if settled_m is None or passed is None:
        return None
    return settled_m - hold.settle_s * speed_before(mover, index).lo, *passed


def _passed(problem: Problem, mover: MoverProblem, until: Event) -> Iterator[tuple[float, str]]:
    """Give the places (station in m, in words) that a mover has surely passed by an encounter.

    Of two that touch: where they do so at the earliest, and where their gaps are asked for, which come before.
    """
    if until.kind != "encounter":
        return
    met = problem.encounter(until.name or "")
    for gap in problem.encounters:
        if not isinstance(gap, GapAt) or (gap is not met and set(gap.pair) != set(met.pair)):
            continue
        at_m = mover.mark_station(gap.at)
        if at_m is not None and (gap is met or isinstance(met, (ContactPoint, ContactTrack))):
            yield at_m, mark_label(gap.at)
    if isinstance(met, ContactTrack) and mover.name == met.b:
        yield met.span_b.lo, met.name
