"""What a file leaves to be chosen of speeds and ramps."""

from __future__ import annotations

from dataclasses import replace

from choreo.linear import chosen
from choreo.problem import Problem, loose_movers
from choreo.problem.records import Hold, Phase, Ramp, Wait


def nothing_free(problem: Problem) -> bool:
    """Whether every speed and the shape of every ramp is given."""
    ramps = [p for mover in problem.movers for p in mover.phases if isinstance(p, Ramp)]
    return all(ramp.to.fixed and ramp.rated for ramp in ramps)


def at_will(problem: Problem) -> bool:
    """Whether nobody says how quick some ramp is."""
    ramps = [p for mover in problem.movers for p in mover.phases if isinstance(p, Ramp)]
    return any(ramp.unstated for ramp in ramps)


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


def uninvolved_at_limits(problem: Problem) -> Problem:
    """Give the problem in which movers that take part in nothing drive ramps of no stated rate at their limits.

    Nothing asks them to be gentler, and a solver that looks at all ramps at once would have them so for nothing.
    """
    loose = {mover.name for mover in loose_movers(problem)}
    if problem.prefer == "gentlest ramps" or not loose:
        return problem
    movers = tuple(
        replace(one, phases=tuple(_at_its_limit(phase) for phase in one.phases))
        if one.name in loose
        else one
        for one in problem.movers
    )
    return problem if movers == problem.movers else replace(problem, movers=movers)


def _at_its_limit(phase: Phase) -> Phase:
    if not isinstance(phase, Ramp) or phase.chosen or not phase.to.fixed:
        return phase
    prescribed = any(one is not None for one in (phase.within_m, phase.over_m, phase.lasting_s))
    return phase if prescribed or len(phase.table) > 1 else replace(phase, rated=True)
