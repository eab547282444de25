"""A ring is the same wherever it begins and however its laps are written: so are the plans of those who meet on it."""

import math
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from choreo.case import case_at
from choreo.case.glances import ends_of
from choreo.geometry import (
    MeetingPoint,
    build_paths,
    conflict_zone,
    crossing_points,
    find_contact,
)
from choreo.linear import decide
from choreo.plans.record import Plan
from choreo.scenario import loads
from choreo.solve import solve_linear
from tests.answers import timing_of
from tests.unit.geometry.made import CAR, TARGET, chain, line, piece

RADIUS_M = 20.0
LAP_M = 2 * math.pi * RADIUS_M
# As written and beyond.
LAPS = 3
SCENARIO = """
choreo: 1
title: A car enters a roundabout on which another one goes round
paths:
  ring: {start: [%(x).9f m, %(y).9f m], heading: %(heading).9f deg, %(pieces)s}
  entry:
    start: [20 m, -100 m]
    heading: 90 deg
    pieces: [{line: 100 m}, {arc: {radius: 20 m, angle: 90 deg}}, {line: 40 m}]
movers:
  subject:
    path: entry
    body: {length: 4.5 m, width: 1.85 m, front overhang: 3.5 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2, jerk: 4 m/s3, lateral: 4 m/s2}
    programme:
      - ramp: {to: 30 km/h}
      - hold: {settle: 2 s, until: hit}
      - stop: {}
  other:
    path: ring
    body: {length: 4.2 m, width: 1.75 m}
    limits: {speed: 80 km/h, accelerate: 2 m/s2, brake: 5 m/s2, jerk: 5 m/s3, lateral: 4 m/s2}
    programme:
      - ramp: {to: 25 km/h}
      - hold: {settle: %(settle)s s, until: hit}
      - stop: {}
encounters:
  hit: {kind: contact, of: subject, with: other, overlap: 50 %%}
"""
LAP = "{arc: {radius: 20 m, angle: 360 deg}}"
WRITTEN = {
    "one lap": f"closed: yes, pieces: [{LAP}]",
    "two laps": f"closed: yes, pieces: [{LAP}, {LAP}]",
    "three laps": f"closed: yes, pieces: [{{repeat: 3, pieces: [{LAP}]}}]",
    "an arc that does not close": f"pieces: [{LAP}, {{arc: {{radius: 20 m, angle: 330 deg}}}}]",
}


def planned(written: str, begins_deg: float, settle_s: float = 2.0) -> Plan:
    turned = math.radians(begins_deg)
    text = SCENARIO % {
        "x": RADIUS_M * math.cos(turned),
        "y": RADIUS_M * math.sin(turned),
        "heading": begins_deg + 90.0,
        "pieces": WRITTEN[written],
        "settle": settle_s,
    }
    return timing_of(loads(text, "ring.yaml", Path()))


def told(plan: Plan) -> list[float]:
    """Where both stand, when they are launched, when they meet."""
    marks = [(one.start.x_m, one.start.y_m, one.launch_s) for one in plan.movers.values()]
    return [number for mark in marks for number in mark] + [plan.encounters["hit"].time_s]


@pytest.mark.parametrize("settle_s", [2.0, 17.0])
def test_the_same_ring_has_the_same_plan_wherever_it_begins(settle_s: float) -> None:
    """With 17 s it takes more than a lap to be at speed and settled: the whole ring and some of it again."""
    usual = planned("one lap", 90.0, settle_s)
    assert usual.verdict == "feasible"
    begins_deg = (0.1, 20.0, 217.0, 340.0, 359.999)
    plans = [planned("one lap", one, settle_s) for one in begins_deg]
    assert [one.verdict for one in plans] == ["feasible"] * len(plans)
    assert [told(one) for one in plans] == [pytest.approx(told(usual), abs=1e-4)] * len(plans)


def test_the_same_ring_has_the_same_plan_however_its_laps_are_written() -> None:
    usual = planned("one lap", 90.0)
    plans = [planned(written, begins) for written in WRITTEN for begins in (0.0, 300.0)]
    assert [one.verdict for one in plans] == ["feasible"] * len(plans)
    assert [told(one) for one in plans] == [pytest.approx(told(usual), abs=1e-4)] * len(plans)


def met_at(begins_rad: float, impact_m: float) -> list[float]:
    """Where a straight tangent meets a ring, along it from the point of contact, in m; once for each lap."""
    ring = chain(
        piece("arc", radius_m=RADIUS_M, angle_rad=2 * math.pi),
        start=(RADIUS_M * math.cos(begins_rad), RADIUS_M * math.sin(begins_rad)),
        heading_rad=begins_rad + math.pi / 2,
    )
    ring.closed = True
    entry = chain(line(60.0), start=(RADIUS_M, -60.0), heading_rad=math.pi / 2)
    paths = build_paths({"ring": ring, "entry": entry})
    met = find_contact(paths["entry"], CAR, paths["ring"], TARGET, face="front", impact_m=impact_m)
    stations = [one.station_b_m for one in met if isinstance(one, MeetingPoint)]
    return sorted(math.remainder(one + RADIUS_M * begins_rad, LAP_M) for one in stations)


LAPS_OF_TWO = """
choreo: 1
title: Two on one circuit
paths:
  circuit:
    start: [0 m, 0 m]
    closed: yes
    pieces:
      - repeat: 5
        pieces:
          - {line: 100 m, name: lap}
          - {arc: {radius: 30 m, angle: 180 deg}}
          - {line: 100 m}
          - {arc: {radius: 30 m, angle: 180 deg}}
movers:
  subject:
    path: circuit
    body: {length: 4.5 m, width: 1.85 m, front overhang: 3.5 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2, jerk: 4 m/s3, lateral: 4 m/s2}
    start: {station: 0 m}
    programme: [{ramp: {to: 36 km/h}}, {hold: {settle: 5 s, until: UNTIL start of subject.lap}}, {stop: {}}]
  slow:
    path: circuit
    body: {length: 4.2 m, width: 1.75 m}
    limits: {speed: 80 km/h, accelerate: 2 m/s2, brake: 5 m/s2, jerk: 5 m/s3}
    start: {station: free}
    programme: [{ramp: {to: 30 km/h}}, {hold: {settle: 5 s}}, {stop: {}}]
encounters:
  close: {kind: gap, of: subject, with: slow, distance: 20 m, at: 4th start of subject.lap}
"""


def test_who_starts_behind_on_a_circuit_stands_clear_of_who_starts_ahead() -> None:
    """The least plan has the slow one a lap ahead, which is behind the other: 3.1 m and 0.5 m of clearance."""
    plan = timing_of(loads(LAPS_OF_TWO.replace("UNTIL", "4th"), "laps.yaml", Path()))
    assert plan.verdict == "feasible"
    lap_m = 200.0 + 2 * math.pi * 30.0
    assert plan.movers["slow"].start.station_m == pytest.approx(lap_m - 3.1 - 0.5, abs=1e-6)


def test_who_passes_through_another_on_a_circuit_starts_clear_of_it_all_the_same() -> None:
    """From the 4th lap to the 5th the subject comes 64 m nearer to who is 20 m ahead: that is what is told."""
    case = case_at(loads(LAPS_OF_TWO.replace("UNTIL", "5th"), "laps.yaml", Path()), None)
    decision = decide(case.staging, ends_of(case), solve_linear, room_m=0.5, through=True)
    assert decision is not None
    assert decision.reading is not None
    subject, slow = decision.reading.movers["subject"], decision.reading.movers["slow"]
    lap_m = 200.0 + 2 * math.pi * 30.0
    assert 3.1 + 0.5 <= slow.start_m - subject.start_m <= lap_m - 3.1 - 0.5 + 1e-6
    assert subject.phases[-1].end_m > slow.phases[-1].end_m


@settings(max_examples=10)
@given(st.floats(0.0, 2 * math.pi), st.floats(0.01, 0.9))
@example(0.0, 0.0)
@example(1e-9, 0.0)
@example(2 * math.pi - 1e-9, 0.0)
@example(3.0, 1e-7)
@example(4.0, -1e-3)
def test_a_ring_is_met_in_each_lap_wherever_it_begins(begins_rad: float, impact_m: float) -> None:
    once = met_at(2.0, impact_m)[::LAPS]
    assert 1 <= len(once) <= 2
    # Within millimetres the paths run along each other for some centimetres.
    near = 1e-4 if impact_m < 0.01 else 1e-7
    found = met_at(begins_rad, impact_m)
    assert max(min(abs(one - known) for known in once) for one in found) <= near
    assert max(min(abs(one - known) for one in found) for known in once) <= near
    # One more where a lap begins just there.
    assert LAPS * len(once) <= len(found) <= (LAPS + 1) * len(once)


def test_a_ring_beside_the_way_is_not_met() -> None:
    assert met_at(2.0, -0.01) == []


# The ring's car sets off behind the road and comes to it at the end of a lap; it passes second.
CROSSED = """choreo: 1
title: A ring crossed in every lap
paths:
  ring: {start: [0 m, 0 m], closed: yes, pieces: [{arc: {radius: 50 m, angle: 360 deg}}]}
  road: {start: [-60 m, 50 m], pieces: [{line: 50 m}]}
movers:
  subject:
    path: ring
    body: {length: 4.5 m, width: 1.8 m}
    limits: {speed: 60 km/h, accelerate: 2 m/s2, brake: 6 m/s2, lateral: 5 m/s2}
    start: {station: 250 m}
    programme: [{ramp: {to: 30 km/h}}, {hold: {until: miss}}, {stop: {}}]
  other:
    path: road
    body: {length: 4.5 m, width: 1.8 m}
    limits: {speed: 60 km/h, accelerate: 2 m/s2, brake: 6 m/s2, lateral: 5 m/s2}
    programme: [{ramp: {to: 10 km/h}}, {hold: {}}, {stop: {}}]
encounters:
  miss: {kind: pass, of: subject, with: other, first: other, time: 1 s}
"""


def test_pass_of_a_ring_that_is_crossed_in_each_lap_is_not_proved_impossible() -> None:
    scenario = loads(CROSSED, "crossed.yaml", Path())
    plan = timing_of(scenario)
    assert plan.verdict == "undecided"
    assert "plan.crossed-again" in {one.code for one in plan.warnings}
    paths = case_at(scenario, None).paths
    ring, road = paths["subject"], paths["other"]
    zone = conflict_zone(road, CAR, ring, CAR)
    assert zone is not None
    assert not zone.once
    crossed = sorted(station for _, station in crossing_points(road, ring))
    lap_m = 2 * math.pi * 50.0
    assert crossed == pytest.approx([(k + 0.75) * lap_m for k in range(LAPS)], abs=1.0)
    assert len(crossed) == LAPS
