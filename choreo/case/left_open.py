"""What a file leaves to be chosen of speeds and ramps."""

from __future__ import annotations

from choreo.linear import chosen
from choreo.problem import Problem
from choreo.problem.records import Hold, Ramp, Wait


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


def all_written(problem: Problem) -> bool:
    """Whether every mark, launch, rate, hold and setting is written, or an event says it."""
    return (
        nothing_free(problem)
        and all(mover.start.fixed for mover in problem.movers)
        and all(isinstance(m.phases[0], Wait) for m in problem.movers if m.phases)
        and all(
            _ends_as_written(p) for m in problem.movers for p in m.phases if isinstance(p, Hold)
        )
        and all(trigger.setting.fixed for trigger in problem.triggers)
    )


def _ends_as_written(hold: Hold) -> bool:
    ends = (hold.for_s, hold.for_m, hold.until, hold.ends_at_m)
    return any(one is not None for one in ends)
