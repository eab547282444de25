"""Open speeds: they are chosen with ramps at their limits, and only where that leaves no plan are ramps gentler."""

from pathlib import Path

import pytest

from choreo.case import answer, case_of
from choreo.plans.record import Plan
from choreo.scenario import loads

KMH = 1 / 3.6
# The subject is at 50 km/h after 5.380 s and 37.359 m, and 190.941 m farther at the contact: 19.127 s after go.
HIT_S = 19.127
TEXT = """choreo: 1
title: a motorcycle comes from the side, its speed open
paths:
  lane: {start: [0 m, 0 m], pieces: [{line: 400 m}]}
  side: {start: [250 m, 80 m], heading: -90 deg, pieces: [{line: 120 m}]}
movers:
  subject:
    path: lane
    body: {length: 4.5 m, width: 1.85 m, front overhang: 3.5 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2, jerk: 4 m/s3}
    start: {station: 20 m, at: go}
    programme:
      - ramp: {to: 50 km/h}
      - hold: {settle: 2 s, until: hit}
      - stop: {}
  rider:
    path: side
    body: {length: 2.1 m, width: 0.8 m}
    limits: {speed: 100 km/h, accelerate: LIMIT, brake: 6 m/s2, jerk: 10 m/s3}
    start: {station: 0 m}
    programme:
      - wait: {until: LEAVES after go}
      - ramp: {to: 20..60 km/h}
      - hold: {settle: 1 s, until: hit}
      - stop: {}
encounters:
  hit: {kind: contact, of: subject, with: rider, side: 60 %, point: front centre}
"""
TABLE = "{0 km/h: 5 m/s2, 50 km/h: 3 m/s2}"


def planned(limit: str, leaves: str) -> Plan:
    """The plan of a rider with a limit on acceleration who leaves at a time."""
    text = TEXT.replace("LIMIT", limit).replace("LEAVES", leaves)
    return answer(case_of(loads(text, "rider.yaml", Path()))).plan


@pytest.mark.parametrize("limit", ["4 m/s2", TABLE])
def test_an_open_speed_is_chosen_with_ramps_at_their_limits(limit: str) -> None:
    """Slower rides of gentler ramps have a shorter runway, and nobody asked for gentler ones."""
    plan = planned(limit, "8.1 s")
    assert plan.verdict == "feasible"
    assert "plan.gentler" not in {one.code for one in plan.warnings}
    assert plan.encounters["hit"].time_s == pytest.approx(HIT_S, abs=1e-3)
    assert plan.movers["subject"].peak.accel_mps2 == pytest.approx(3.0, abs=1e-6)
    # 4 m/s2 and 10 m/s3: 11.027 s for 78.025 m, of which v / 8 + 0.2 s are lost.
    speed = plan.movers["rider"].peak.speed_mps
    if limit != TABLE:
        assert speed * (HIT_S - 8.1 - 0.2 - speed / 8) == pytest.approx(78.025, abs=0.02)


def test_what_no_plan_was_found_without_is_not_told_as_proven() -> None:
    """He leaves so early that even 20 km/h come too soon: the subject can't be quicker, so he is gentler."""
    plan = planned("4 m/s2", "0.5 s")
    assert plan.verdict == "feasible"
    told = [one.text for one in plan.warnings if one.code == "plan.gentler"]
    assert {"at its limit no plan was found" in one for one in told} == {True}


def test_a_rolling_start_that_slows_down_into_a_range_is_at_its_limit() -> None:
    """10 m/s for 50 s is farther than the path: it brakes to less at 6 m/s2, which is its limit for that."""
    text = """choreo: 1
title: Rolls over its mark, then 50 s at what the path allows
paths: {lane: {start: [0 m, 0 m], pieces: [{line: 480 m}]}}
movers:
  subject:
    path: lane
    body: {length: 4.3 m, width: 1.8 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    start: {station: 0 m, speed: 10 m/s}
    programme: [{ramp: {to: 6..15 m/s}}, {hold: {for: 50 s}}, {stop: {}}]
"""
    plan = answer(case_of(loads(text, "rolls.yaml", Path()))).plan
    assert plan.verdict == "feasible"
    assert 6.0 <= plan.movers["subject"].peak.speed_mps <= 10.0
    assert {one.code for one in plan.warnings} & {"plan.gentler", "plan.uneven"} == set()
