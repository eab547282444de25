"""Scenarios as written from the format page alone: driven as meant, or refused for a reason that is told."""

from pathlib import Path

from choreo.plans.record import Plan
from choreo.scenario import loads
from tests.answers import timing_of

CAR = """body: {length: 4.5 m, width: 1.8 m, front overhang: 3.6 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2, jerk: 5 m/s3, lateral: 4 m/s2}"""
WALKER = """kind: pedestrian
    body: {length: 0.6 m, width: 0.5 m}
    limits: {speed: 12 km/h, accelerate: 2 m/s2, brake: 2 m/s2, jerk: 20 m/s3}"""


def planned(text: str) -> Plan:
    text = text.replace("    CAR\n", f"    {CAR}\n").replace("    WALKER\n", f"    {WALKER}\n")
    return timing_of(loads(f"choreo: 1\n{text}", "written.yaml", Path()))


def test_a_collision_whatever_the_open_ramps_do_is_a_proof() -> None:
    """15 m behind who has slowed to 20 km/h, at 60 km/h: with 4 m/s2 and its build-up that is not enough to slow down.

    Braking from 16.67 to 5.56 m/s by 4 m/s2 alone takes 11.11^2 / 8 = 15.4 m of the 15 m.
    """
    plan = planned("""title: slowed down too late
paths: {lane: {start: [0 m, 0 m], pieces: [{line: 1000 m}]}}
movers:
  lead:
    CAR
    path: lane
    start: {station: 120 m, at: go}
    programme:
      - ramp: {to: 60 km/h}
      - hold: {for: 5 s}
      - ramp: {to: 20 km/h, brake: 4 m/s2}
      - {hold: {for: 3 s}, name: slow}
      - ramp: {to: 60 km/h}
      - hold: {for: 3 s}
      - stop: {}
  subject:
    CAR
    path: lane
    programme:
      - ramp: {to: 60 km/h}
      - hold: {settle: 2 s, until: close}
      - ramp: {to: 20 km/h, brake: 4 m/s2}
      - hold: {for: 2 s}
      - stop: {}
encounters:
  close: {kind: gap, of: subject, with: lead, distance: 15 m, at: start of lead.slow}
""")
    assert plan.verdict == "infeasible"
    lines = [line.what for line in (plan.budgets[0].available, *plan.budgets[0].pieces)]
    assert any("stays behind" in line for line in lines)


def test_those_of_a_pass_drive_on() -> None:
    """The walker leaves the car's way (1.8 m) and comes to rest clear of it; the car goes on over the walker's way."""
    plan = planned("""title: an intended miss
paths:
  lane: {start: [0 m, 0 m], pieces: [{line: 500 m}]}
  cross: {start: [300 m, -5 m], heading: 90 deg, pieces: [{line: 12 m}]}
movers:
  subject:
    CAR
    path: lane
    programme: [ramp: {to: 30 km/h}, hold: {settle: 2 s}, stop: {}]
  walker:
    WALKER
    path: cross
    start: {station: 0 m}
    programme: [wait: {for: 12 s}, ramp: {to: 5 km/h}, hold: {}, stop: {}]
encounters:
  clear: {kind: pass, of: subject, with: walker, first: walker, distance: 5 m}
""")
    assert plan.verdict == "feasible"
    assert plan.movers["walker"].events[-1].station_m >= 5.0 + 0.9 + 0.3 + 0.5 - 1e-6
    assert plan.movers["subject"].events[-1].station_m >= 300.0 - 0.25 - 3.6


def test_a_gap_holds_along_a_piece_of_the_path() -> None:
    """Whoever starts at a mark passes it as it sets off: not at any time before."""
    plan = planned("""title: a gap along a zone
paths: {lane: {start: [0 m, 0 m], pieces: [{line: 300 m}, {line: 100 m, name: zone}, {line: 600 m}]}}
movers:
  lead:
    CAR
    path: lane
    programme: [ramp: {to: 50 km/h}, hold: {}, stop: {}]
  subject:
    CAR
    path: lane
    programme: [ramp: {to: 50 km/h}, hold: {}, stop: {brake: 5 m/s2}]
encounters:
  near: {kind: gap, of: subject, with: lead, distance: 25 m, during: subject.zone}
""")
    assert plan.verdict == "feasible"
    near = plan.encounters["near"]
    assert near.until_s is not None
    assert near.until_s > near.time_s >= 0.0
    assert "plan.not-least" in {one.code for one in plan.warnings}


def test_marks_are_passed_on_the_way() -> None:
    """Two gaps at both ends of a piece: nobody starts or comes to rest on a mark, however short that would be."""
    plan = planned("""title: a gate
paths: {lane: {start: [0 m, 0 m], pieces: [{line: 300 m}, {line: 100 m, name: gate}, {line: 300 m}]}}
movers:
  lead:
    CAR
    path: lane
    programme: [ramp: {to: 50 km/h}, hold: {}, stop: {}]
  subject:
    CAR
    path: lane
    programme: [ramp: {to: 50 km/h}, hold: {}, stop: {}]
encounters:
  into: {kind: gap, of: subject, with: lead, distance: 25 m, at: start of subject.gate}
  out: {kind: gap, of: subject, with: lead, distance: 25 m, at: end of subject.gate}
""")
    assert plan.verdict == "feasible"
    assert plan.movers["subject"].start.station_m <= 299.5 + 1e-6
    assert plan.movers["subject"].events[-1].station_m >= 400.5 - 1e-6
