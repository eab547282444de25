"""Named pieces of a path that are tighter than what a mover holds on them, by the path itself."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from choreo.geometry.banks import counted_per_m
from choreo.plans.record import Budget
from choreo.problem import Staging
from choreo.problem.records import Hold, MoverProblem
from choreo.proof import ROUNDING
from choreo.proof.holds import begins_by, mark_label, too_fast
from choreo.proof.speeds import speed_before

# A path is looked at every so many metres, at no more places than this.
STEP_M = 0.25
MOST_LOOKS = 4000


def too_tight(staging: Staging) -> tuple[Budget, ...]:
    """Give the budgets of holds up to a named piece's edge that are too fast for the way before it.

    Problems carry a path's bends thinned out, which says where a plan is careful and proves nothing.
    """
    found = [
        budget
        for mover in staging.problem.movers
        for index, hold in enumerate(mover.phases)
        if isinstance(hold, Hold) and hold.until is not None
        for budget in _broken(staging, mover, index, hold)
    ]
    return tuple(found)


def _broken(staging: Staging, mover: MoverProblem, index: int, hold: Hold) -> Iterator[Budget]:
    ends_m = None if hold.until is None else mover.mark_station(hold.until)
    most_per_m = max((point.curvature_per_m for point in mover.curve), default=0.0)
    needs = speed_before(mover, index + 1).lo ** 2 * most_per_m
    if ends_m is None or hold.until is None or needs <= mover.lateral_mps2:
        return
    path = staging.paths[mover.name]
    begins_m = begins_by(mover, index, ends_m)
    low, high = max(begins_m, 0.0), min(ends_m, path.length_m)
    looks = np.linspace(low, high, min(math.ceil((high - low) / STEP_M) + 1, MOST_LOOKS))
    own = np.abs(path.pose(looks).curvature_per_m)
    counted = counted_per_m(path, looks, own, mover.lateral_mps2)
    tightest = int(counted.argmax())
    bend = (float(counted[tightest]), float(looks[tightest]))
    for budget in too_fast(mover, index, bend, (begins_m, ends_m), mark_label(hold.until)):
        if budget.short_by > ROUNDING:
            yield budget
