"""Speeds that a file leaves open, tried one by one: with a speed given, the linear stage decides at once."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

from choreo.case.choices import open_speeds
from choreo.case.record import Case
from choreo.plans.record import Plan
from choreo.problem.phases import least_open_speed
from choreo.words.kinds import Prefer

# So many values of each open speed, by how many are open; with more open speeds nothing is tried.
VALUES = {1: 33, 2: 9, 3: 5}


def at_given_speeds(case: Case) -> Iterator[Case]:
    """Give the case with each combination of some values for its open speeds, also below what a ramp comes from."""
    speeds = list(open_speeds(case.scenario))
    count = VALUES.get(len(speeds), 0)
    ranges = []
    for one in speeds if count else ():
        low, high = one.span.lo, one.span.hi
        low = low if low > 0.0 else least_open_speed(high)
        ranges.append([low + (high - low) * step / (count - 1) for step in range(count)])
    for values in product(*ranges) if ranges else ():
        scenario = case.scenario
        for one, value in zip(speeds, values, strict=True):
            scenario = one.put(scenario, value)
        yield case.changed(scenario)


def cost_of(plan: Plan, prefer: Prefer) -> float:
    """Give what is wanted least of a plan: the time of its last encounter (s), else its runway (m)."""
    if prefer == "quickest run" and plan.encounters:
        return max(one.time_s for one in plan.encounters.values())
    return plan.runway_m
