"""Speeds that a file leaves open, tried one by one: with a speed given, the linear stage decides at once."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

from choreo.case.record import Case
from choreo.plans.record import Plan
from choreo.scenario.records.edits import with_speed
from choreo.words.kinds import Prefer

# So many values of each open speed, by how many are open; with more open speeds nothing is tried.
VALUES = {1: 33, 2: 9, 3: 5}
# The slowest that is tried of a speed that may be anything (m/s), as an open speed is a driving speed.
SLOWEST_MPS = 1.0


def at_given_speeds(case: Case) -> Iterator[Case]:
    """Give the case with each combination of some values for its open speeds, also below what a ramp comes from."""
    movers = case.scenario.movers
    ramps = [
        (name, index)
        for name, mover in movers.items()
        for index, phase in enumerate(mover.programme)
        if phase.kind == "ramp" and phase.follows is None and not phase.to.fixed
    ]
    count = VALUES.get(len(ramps), 0)
    ranges = []
    for name, index in ramps if count else ():
        to = movers[name].programme[index].to
        high = min(to.hi, movers[name].limits.speed_mps)
        low = to.lo if to.lo > 0.0 else min(SLOWEST_MPS, high / 2)
        ranges.append([low + (high - low) * step / (count - 1) for step in range(count)])
    for values in product(*ranges) if ranges else ():
        scenario = case.scenario
        for (name, index), value in zip(ramps, values, strict=True):
            scenario = with_speed(scenario, name, index, value)
        yield case.changed(scenario)


def cost_of(plan: Plan, prefer: Prefer) -> float:
    """Give what is wanted least of a plan: the time of its last encounter (s), else its runway (m)."""
    if prefer == "quickest run" and plan.encounters:
        return max(one.time_s for one in plan.encounters.values())
    return sum(one.runway.total_m for one in plan.movers.values())
