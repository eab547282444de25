"""Braking in a turn: circle and ellipse of friction (C155, C156, C157), ways to rest (C150), also through plans."""

from pathlib import Path

import pytest

from choreo.case import answer, case_of
from choreo.motion import along_left_mps2, used_share
from choreo.plans.record import Plan
from choreo.scenario import loads

G = 9.80665


@pytest.mark.parametrize(
    ("across", "left"), [(2.0, 8.5964), (4.0, 7.8675), (6.0, 6.4729), (8.0, 3.7280)]
)
def test_circle_of_friction_leaves(across: float, left: float) -> None:
    assert float(along_left_mps2(0.9 * G, across, 0.9 * G)) == pytest.approx(left, abs=1e-3)


def test_ellipse_leaves_and_is_used() -> None:
    assert float(along_left_mps2(9.0, 5.0, 7.0)) == pytest.approx(6.2987, abs=1e-3)
    assert float(used_share(4.5, 9.0, 5.0, 7.0)) == pytest.approx(0.8719, abs=1e-3)
    assert float(along_left_mps2(9.0, 8.0, 7.0)) == 0.0


TURN = """choreo: 1
title: braking in a turn
paths:
  turn:
    start: [0 m, 0 m]
    pieces: [{line: 200 m}, {clothoid: {length: 50 m, from: straight, to: 100 m}},
             {arc: {radius: 100 m, angle: 180 deg}, name: turn}]
movers:
  subject:
    path: turn
    body: {length: 4.5 m, width: 1.8 m}
    limits: {speed: 150 km/h, accelerate: 3 m/s2, brake: 9 m/s2, lateral: 7 m/s2, combined: ellipse}
    programme:
      - ramp: {to: 5 m/s2 lateral, on: turn}
      - hold: {settle: 1 s, settled by: start of subject.turn, until: start of subject.turn}
      - stop: {RATE}
"""


def planned(text: str) -> Plan:
    """The answer of the product."""
    return answer(case_of(loads(text, "turn.yaml", Path()))).plan


@pytest.mark.parametrize(("rate", "way"), [(2.0, 125.0), (4.0, 62.5), (6.0, 41.67)])
def test_way_to_rest_in_a_turn(rate: float, way: float) -> None:
    text = TURN.replace("RATE", f"brake: {rate} m/s2")
    plan = planned(text)
    assert plan.verdict == "feasible"
    events = {event.name: event for event in plan.movers["subject"].events}
    assert events["end of stop"].station_m - 250.0 == pytest.approx(way, abs=0.01)


def test_harder_than_the_ellipse_leaves_is_proved_impossible() -> None:
    verdicts = [
        planned(TURN.replace("RATE", f"brake: {rate} m/s2")).verdict for rate in (6.298, 6.30)
    ]
    assert verdicts == ["feasible", "infeasible"]


def test_ramp_that_may_be_gentler_is_driven_in_the_curve_at_what_is_left() -> None:
    # On the circle all the way; from 10 to 20 m/s: at its end 4 of 7 m/s2 are used sideways.
    text = TURN.replace("{line: 200 m}, {clothoid: {length: 50 m, from: straight, to: 100 m}},", "")
    begin = text.index("    programme")
    text = (
        text[:begin]
        + """    start: {station: 10 m, speed: 36 km/h, at: go}
    programme: [{ramp: {to: 72 km/h, accelerate: free}}, {hold: {for: 1 s}}, {stop: {brake: 2 m/s2}}]
"""
    )
    plan = planned(text)
    assert plan.verdict == "feasible"
    ramp = plan.movers["subject"].events[1]
    rate = 10.0 / ramp.time_s
    assert rate == pytest.approx(float(along_left_mps2(3.0, 4.0, 7.0)), rel=1e-6)
