"""Scenario texts for the published figures, and the short way from a text to a verified plan.

Bodies and limits are invented; every figure that a test looks at stands in the test itself.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

from choreo.case.whole import whole_answer
from choreo.geometry import Path as Curve
from choreo.geometry import build_paths
from choreo.plans.record import Plan
from choreo.plans.room_record import SpacePlan
from choreo.scenario import loads
from tests.answers import timing_of

FILE = "reference.yaml"

# 1.8 m wide: the width that facts C19, C22, C35, C36 and C50 are worked out for.
# No jerk limit: accelerations may jump, as they do in the published sums.
CAR = """\
    body: {length: 4.30 m, width: 1.80 m, front overhang: 3.40 m}
    limits: {speed: 150 km/h, accelerate: 2 m/s2, brake: 8 m/s2, lateral: 9 m/s2}
"""
TARGET = """\
    body: {length: 4.10 m, width: 1.70 m}
    limits: {speed: 150 km/h, accelerate: 2 m/s2, brake: 8 m/s2, lateral: 9 m/s2}
"""
# The same target led by its rear centre: the front is a whole length ahead of the reference point.
TARGET_BY_ITS_REAR = TARGET.replace("1.70 m}", "1.70 m, front overhang: 4.10 m}")
WALKER = """\
    kind: pedestrian
    body: {length: 0.60 m, width: 0.50 m}
    limits: {speed: 10 km/h, accelerate: 2 m/s2, brake: 2 m/s2}
"""
LANE = "  lane: {start: [0 m, 0 m], heading: 0 deg, pieces: [{line: 3 km}]}\n"


@cache
def planned(text: str) -> Plan:
    """Give the plan of a scenario text; fails unless solved and confirmed by the simulation."""
    plan = timing_of(loads(text, FILE, Path()))
    assert plan.verdict == "feasible", (plan.budgets, plan.conflicts)
    return plan


@cache
def whole(text: str) -> Plan:
    """Give the plan of a scenario text with the room that it takes; fails unless there is one."""
    plan = whole_answer(loads(text, FILE, Path())).plan
    assert plan.space is not None, (plan.verdict, plan.budgets, plan.conflicts)
    return plan


def room_of(text: str) -> SpacePlan:
    """Give the room that the plan of a scenario text takes."""
    space = whole(text).space
    assert space is not None
    return space


def path_of(pieces: str) -> Curve:
    """Give the product's path of pieces (YAML flow list), from the origin along x."""
    text = f"""\
choreo: 1
title: a path alone
paths:
  road: {{start: [0 m, 0 m], heading: 0 deg, pieces: [{pieces}]}}
movers:
  subject:
    path: road
{CAR}
    start: {{station: 0 m}}
"""
    return build_paths(loads(text, FILE, Path()).paths)["road"]


def phase_start_s(plan: Plan, mover: str, phase: str) -> float:
    """Give the time after go at which a phase begins."""
    return min(piece.start_s for piece in plan.movers[mover].pieces if piece.phase == phase)


def braking_lead(
    speed: str, gap: str, brake: str, *, lead_speed: str = "", instants: str = ""
) -> str:
    """A car follows a lead; the lead brakes to a standstill, the car never does.

    gap: keys of the gap when the braking starts; brake: keys of the braking ramp; lead_speed: the car's own if it is
    left out; instants: a YAML flow mapping.
    """
    return f"""\
choreo: 1
title: Braking lead
paths:
{LANE}
movers:
  subject:
    path: lane
{CAR}
    programme:
      - ramp: {{to: {speed}}}
      - hold: {{settle: 3 s, settled by: start of lead.brake, until: contact}}
  lead:
    path: lane
{TARGET}
    start: {{station: 500 m}}
    programme:
      - ramp: {{to: {lead_speed or speed}}}
      - hold: {{settle: 3 s, settled by: start of lead.brake}}
      - {{ramp: {{to: 0 km/h, {brake}}}, name: brake}}
encounters:
  gap: {{kind: gap, of: subject, with: lead, {gap}, at: start of lead.brake}}
  contact: {{kind: contact, of: subject, with: lead, overlap: 50 %}}
instants: {{{instants}}}
"""
