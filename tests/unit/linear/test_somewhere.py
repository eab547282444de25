"""What happens inside of a ramp whose shape is open: proofs reach there, and don't reach too far."""

from pathlib import Path

from choreo.case import answer, case_at
from choreo.scenario import loads

BESIDE = """choreo: 1
title: behind a car that is faster, then across the way of a walker
paths:
  lane: {{start: [0 m, 0 m], heading: 0 deg, pieces: [{{line: 4000 m}}]}}
  way: {{start: [1046 m, 8.91 m], heading: -90 deg, pieces: [{{line: 40 m}}]}}
movers:
  lead:
    kind: vehicle
    path: lane
    body: {{length: 4.4 m, width: 1.6 m}}
    limits: {{speed: 60 m/s, accelerate: 4.8 m/s2, brake: 8 m/s2}}
    start: {{station: 663 m}}
    programme:
      - wait: {{for: 9.5 s}}
      - {{ramp: {{to: 22.4 m/s, accelerate: 4.5 m/s2}}, name: go}}
      - {{hold: {{for: 13.5 s}}, name: steady}}
      - {{ramp: {{to: 15.2 m/s}}, name: brake}}
      - {{hold: {{for: 82 m}}, name: slow}}
      - {{stop: {{brake: 6 m/s2}}, name: stop}}
  subject:
    path: lane
    body: {{length: 5 m, width: 1.86 m}}
    limits: {{speed: 60 m/s, accelerate: {{0 m/s: 4 m/s2, 2.5 m/s: 2.3 m/s2, 34 m/s: 0.5 m/s2}}, brake: 7.6 m/s2}}
    start: {{station: free}}
    programme: [{{ramp: {{to: 18.3 m/s}}, name: go}}, {{hold: {{until: crossed}}}}, {{stop: {{brake: 4.2 m/s2}}}}]
  walker:
    kind: pedestrian
    path: way
    body: {{length: 0.4 m, width: 0.6 m}}
    limits: {{speed: 3 m/s, accelerate: 2.9 m/s2, brake: 2.5 m/s2}}
    start: {{station: 0 m}}
    programme: [{{ramp: {{to: 2.5 m/s, accelerate: 2.3 m/s2}}}}, {{hold: {{until: crossed}}}}, {{stop: {{}}}}]
encounters:
  gap: {{kind: gap, of: subject, with: lead, distance: {gap}, at: end of lead.steady}}
  crossed: {{kind: contact, of: subject, with: walker, offset: 0 m}}
"""


def verdict(gap: str) -> str:
    """What is said of a gap to a car that left 18.5 s before, and holds 4.1 m/s more than its follower for 13.5 s."""
    return answer(case_at(loads(BESIDE.format(gap=gap), "beside.yaml", Path()), None)).plan.verdict


def test_nobody_passes_through_the_one_ahead_however_its_ramp_is_driven() -> None:
    """8.8 s before the gap of 36 m the two touched, in a hold or in a ramp of any shape: it came through."""
    assert verdict("36 m") == "infeasible"


def test_a_gap_that_leaves_room_all_along_is_found() -> None:
    assert verdict("100 m") == "feasible"


AHEAD = """choreo: 1
title: behind a car that is faster until it brakes
paths:
  lane: {{start: [0 m, 0 m], heading: 0 deg, pieces: [{{line: 4000 m}}]}}
movers:
  lead:
    kind: vehicle
    path: lane
    body: {{length: 4 m, width: 1.8 m}}
    limits: {{speed: 60 m/s, accelerate: 4 m/s2, brake: 7 m/s2}}
    start: {{station: 1200 m, speed: 12 m/s}}
    programme: [{{ramp: {{to: 24 m/s}}}}, {{hold: {{for: 12 s}}, name: steady}}, {{stop: {{brake: 3.6 m/s2}}}}]
  subject:
    path: lane
    body: {{length: 4 m, width: 1.8 m}}
    limits: {{speed: 60 m/s, accelerate: 4 m/s2, brake: 7 m/s2}}
    start: {{station: free, speed: 7 m/s}}
    programme: [{{ramp: {{to: 18 m/s}}}}, {{hold: {{until: contact}}}}, {{stop: {{brake: 4 m/s2}}}}]
encounters:
  contact: {{kind: contact, of: subject, with: lead, overlap: 50 %}}
  gap: {{kind: gap, of: subject, with: lead, distance: {gap}, at: end of lead.steady}}
"""


def test_two_looks_at_one_ramp_of_any_shape_are_no_farther_apart_than_its_speeds_allow() -> None:
    """The lead gains 6 m/s on its follower for 12 s, and in its ramp 4.5 m at least: of 71 m there was none before."""
    at = [
        answer(case_at(loads(AHEAD.format(gap=gap), "ahead.yaml", Path()), None)).plan.verdict
        for gap in ("71 m", "78 m")
    ]
    assert at == ["infeasible", "feasible"]


RING = """choreo: 1
title: behind a car that rolls on, round a closed lane
paths:
  lane:
    start: [0 m, 0 m]
    closed: yes
    pieces:
      - {{line: 500 m}}
      - {{arc: {{radius: 159.15494309189535 m, angle: 180 deg}}}}
      - {{line: 500 m}}
      - {{arc: {{radius: 159.15494309189535 m, angle: 180 deg}}}}
movers:
  lead:
    kind: vehicle
    path: lane
    body: {{length: 4 m, width: 1.8 m}}
    limits: {{speed: 60 m/s, accelerate: 3 m/s2, brake: 4 m/s2}}
    start: {{station: 600 m, speed: 10 m/s, at: go}}
    programme: [{{hold: {{for: 5 s}}, name: steady}}, {{stop: {{brake: 2 m/s2}}}}]
  subject:
    path: lane
    body: {{length: 4 m, width: 1.8 m}}
    limits: {{speed: 60 m/s, accelerate: 4 m/s2, brake: 4 m/s2}}
    start: {{station: 500 m}}
    programme: [{{ramp: {{to: 8 m/s}}}}, {{hold: {{for: 3 s}}}}, {{stop: {{}}}}]
encounters:
  gap: {{kind: gap, of: subject, with: lead, distance: {gap}, at: end of lead.steady}}
"""


def test_a_gap_round_a_bend_that_nobody_reaches_is_proven() -> None:
    """The lead is 150 m ahead then, its rear 146 m; the subject has come 32 m at most."""
    at = [
        answer(case_at(loads(RING.format(gap=gap), "ring.yaml", Path()), None)).plan.verdict
        for gap in ("100 m", "120 m")
    ]
    assert at == ["infeasible", "feasible"]
