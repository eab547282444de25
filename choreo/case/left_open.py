"""What a file leaves to be chosen of speeds and ramps."""

from __future__ import annotations

from choreo.linear import chosen
from choreo.problem import Problem
from choreo.problem.records import Ramp


def nothing_free(problem: Problem) -> bool:
    """Whether every speed and the shape of every ramp is given."""
    ramps = [p for mover in problem.movers for p in mover.phases if isinstance(p, Ramp)]
    return all(ramp.to.fixed and ramp.rated for ramp in ramps)


def nothing_left(problem: Problem) -> bool:
    """Whether every speed and every rate is given, or the rate is to be chosen by the author's leave.

    Under a table over speed a chosen rate cuts the table, of which the linear stage only tries shares.
    """
    asked = chosen(problem)
    return all(
        ramp.to.fixed and (ramp.rated or ((mover.name, index) in asked and len(ramp.table) == 1))
        for mover in problem.movers
        for index, ramp in enumerate(mover.phases)
        if isinstance(ramp, Ramp)
    )
