"""Would a case's plan keep its movers apart? The least plan of the rows, simulated: rows alone don't know."""

from __future__ import annotations

from functools import partial

import numpy as np

from choreo.case.glances import Glance, ends_of, places, with_room
from choreo.case.record import Case
from choreo.geometry import body_corners
from choreo.linear import MOST_SOLVED, chosen, decide
from choreo.plans.fingerprint import fingerprint_of
from choreo.problem import Staging
from choreo.problem.contradictions import depths_m
from choreo.solve import Solved, plan_of, solve_linear
from choreo.verification import Verification, verify
from choreo.words import Finding

# How deep two lie in each other is looked for so long after they touch (s), in steps (s).
DEPTH_S, DEPTH_STEP_S = 5.0, 0.01
# Two that lie in each other deeper than this (m) do collide, whatever the rounding.
DEEP_M = 1e-3
TOUCHES = ("verify.unintended-contact", "verify.early-contact")


def glance_at_run(case: Case, most: int = MOST_SOLVED) -> Glance:
    """Simulate the linear stage's plan, every ramp at its limit: whether it is one, else how deep bodies collide (m).

    Nothing is done to keep them apart. None where there is no such plan, or where it fails by something else. most: as
    for glance. Raises ChoreoError: what the case's staging raises.
    """
    found = [_glance(case, staging, most) for staging in places(case.staging)]
    worked = next((one for one in found if one.works), None)
    collided = [one for one in found if one.works is False]
    return worked or min(collided, key=lambda one: one.miss, default=Glance(None))


def _glance(case: Case, staging: Staging, most: int) -> Glance:
    freed, ends = chosen(staging.problem), ends_of(case)
    decision = with_room(partial(decide, staging, ends, solve_linear, freed=freed, most=most), case)
    if decision is None or decision.reading is None:
        return Glance(None)
    solved = Solved.reading_of(staging, decision.reading)
    fingerprint = fingerprint_of(case.scenario.meaning())
    plan = plan_of(case.scenario, solved, fingerprint, peaks=False)
    seen = verify(case.scenario, case.paths, plan, whole=False)
    if seen.agrees:
        return Glance(True, solved=decision.solved)
    touching = touches(seen)
    if not touching:
        return Glance(None, solved=decision.solved)
    miss = max(deepest_m(case, seen, one) for one in touching)
    return Glance(False, miss, decision.solved, trace=_trace(seen, touching))


def touches(seen: Verification) -> list[Finding]:
    """Give who collides in a simulation, the first first."""
    found = [one for one in seen.findings if one.code in TOUCHES]
    return sorted(found, key=lambda one: float(one.values["time_s"]))


def deepest_m(case: Case, seen: Verification, touch: Finding) -> float:
    """Give how deep (m) two that collide come to lie in each other."""
    start_s = float(touch.values["time_s"])
    times = np.arange(start_s, start_s + DEPTH_S, DEPTH_STEP_S)
    corners = []
    for name in (str(touch.values["a"]), str(touch.values["b"])):
        poses = case.paths[name].pose(seen.motions[name].at(times)[0])
        corners.append(body_corners(case.scenario.movers[name].body.corners_m, poses))
    return float(depths_m(*corners).max())


def _trace(seen: Verification, touching: list[Finding]) -> tuple[float, ...]:
    """Where they touch, and how fast each is then: m and m/s."""
    trace: list[float] = []
    for one in touching:
        trace += [float(one.values["x_m"]), float(one.values["y_m"])]
        for name in (str(one.values["a"]), str(one.values["b"])):
            speed = seen.motions[name].at(np.array([float(one.values["time_s"])]))[1]
            trace.append(float(speed[0]))
    return tuple(trace)
