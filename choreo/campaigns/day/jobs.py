"""Planned variants as runs of a day: how long each takes, there and back, and what it uses up."""

from __future__ import annotations

from choreo.campaigns.day.records import Job
from choreo.campaigns.day.spec import DaySpec
from choreo.plans.record import MoverPlan, Plan
from choreo.scenario import Mover, Scenario
from choreo.track.motion import motion_of

# Movers of these kinds are drawn back: they need no turn.
DRAWN_BACK = ("pedestrian", "obstacle")


def job_of(
    name: str, scenario: Scenario, plan: Plan, staging: int, spec: DaySpec, *, first: bool
) -> Job:
    """Make a run of a feasible plan: from go until all are at rest, then back to the marks at the spec's speed.

    A mover whose programme says its way back takes that.
    """
    ends_s = [motion_of(one).end_s for one in plan.movers.values()]
    ends_s += [one.until_s or one.time_s for one in plan.encounters.values()]
    ways_m, backs_s = {}, [0.0]
    for mover, planned in plan.movers.items():
        if not planned.pieces:
            continue
        back_m, back_s = _back(mover, scenario.movers[mover], planned, plan, spec)
        ways_m[mover] = planned.runway.total_m + back_m
        backs_s.append(back_s)
    touched = {mover for one in plan.encounters.values() if one.touches for mover in one.pair}
    return Job(
        name,
        staging,
        max(ends_s, default=0.0),
        max(backs_s),
        ways_m,
        frozenset(touched),
        first=first,
    )


def _back(
    name: str, mover: Mover, planned: MoverPlan, plan: Plan, spec: DaySpec
) -> tuple[float, float]:
    """Way (m) and time (s) of a mover's way back."""
    programme = None if plan.crew is None else plan.crew.programmes.get(name)
    if programme is not None and programme.back is not None:
        return programme.back.way_m, programme.back.time_s
    way_m = planned.runway.total_m
    speed_mps = min(spec.return_mps, mover.limits.speed_mps)
    turn_s = 0.0 if mover.kind in DRAWN_BACK else spec.turn_s
    return way_m, way_m / speed_mps + turn_s
