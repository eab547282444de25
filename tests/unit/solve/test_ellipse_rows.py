"""Open rates and speeds in a curve under an ellipse of friction, decided by the nonlinear stage."""

import math
from pathlib import Path

import pytest

from choreo.case import answer, case_of
from choreo.motion import used_share
from choreo.plans.record import MoverPlan, Plan
from choreo.scenario import loads

TURN = """choreo: 1
title: into a curve of 100 m
prefer: {prefer}
paths:
  turn:
    start: [0 m, 0 m]
    pieces: [{{line: 60 m}}, {{arc: {{radius: 100 m, angle: 90 deg}}, name: turn}}, {{line: 200 m}}]
movers:
  subject:
    path: turn
    body: {{length: 4.5 m, width: 1.8 m}}
    limits: {{speed: 150 km/h, accelerate: 3 m/s2, brake: 9 m/s2, lateral: 7 m/s2, combined: ellipse{jerk}}}
    start: {{station: 0 m}}
    programme:
{programme}"""


def planned(prefer: str, programme: str, jerk: str = "") -> Plan:
    text = TURN.format(prefer=prefer, programme=programme, jerk=jerk)
    return answer(case_of(loads(text, "turn.yaml", Path()))).plan


def ends(mover: MoverPlan) -> dict[str, tuple[float, float, float]]:
    """Speed in m/s, station in m and time in s of each event."""
    return {one.name: (one.speed_mps, one.station_m, one.time_s) for one in mover.events}


def test_open_rate_and_speed_are_chosen_together_on_the_ellipse() -> None:
    plan = planned(
        "quickest run",
        """      - ramp: {to: 40 km/h}
      - hold: {until: start of subject.turn}
      - ramp: {to: 50..90 km/h, accelerate: free}
      - hold: {until: end of subject.turn}
      - stop: {brake: 2 m/s2}
""",
    )
    assert plan.verdict == "feasible"
    assert "plan.tried-speeds" not in [one.code for one in plan.warnings]
    found = ends(plan.movers["subject"])
    slow, begin, _ = found["end of hold"]
    fast, end, _ = found["end of ramp 2"]
    rate = (fast**2 - slow**2) / 2.0 / (end - begin)
    assert float(used_share(rate, 3.0, fast**2 / 100.0, 7.0)) == pytest.approx(1.0, abs=1e-4)
    # Of all such rates, which the speed gives, the one with which it stands first, by a dense grid.
    arc_m = 50.0 * math.pi

    def lasts_s(speed: float) -> float:
        rate = 3.0 * (1.0 - (speed**2 / 700.0) ** 2) ** 0.5
        way = (speed**2 - slow**2) / 2.0 / rate
        return (speed - slow) / rate + (arc_m - way) / speed + speed / 2.0

    best = min((lasts_s(index / 1000.0), index / 1000.0) for index in range(13_900, 22_000))
    assert fast == pytest.approx(best[1], abs=0.02)


def test_more_open_speeds_than_are_tried_one_by_one_are_decided() -> None:
    plan = planned(
        "shortest runway",
        """      - ramp: {to: 40..72 km/h}
      - hold: {settle: 1 s, settled by: start of subject.turn}
      - ramp: {to: 30..35 km/h}
      - hold: {for: 1 s}
      - ramp: {to: 40..50 km/h}
      - hold: {for: 1 s}
      - ramp: {to: 10..12 km/h}
      - stop: {brake: 6 m/s2}
""",
        ", jerk: 8 m/s3",
    )
    assert plan.verdict == "feasible"
    assert ends(plan.movers["subject"])["end of ramp"][1] < 60.0
