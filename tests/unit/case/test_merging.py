"""Movers whose ways join one lane keep apart there where a plan leaves them the room."""

from pathlib import Path

from choreo.case import answer, case_at
from choreo.scenario import loads

CUT_IN = """choreo: 1
title: a slower car cuts in
paths:
  lane: {start: [0 m, 0 m], pieces: [{line: 1000 m}]}
  change:
    start: [100 m, 3.5 m]
    pieces: [{line: 400 m}, {shift: {offset: -3.5 m, length: 60 m}, name: cut}, {line: 400 m}]
movers:
  subject:
    body: {length: 4.5 m, width: 1.8 m, front overhang: 3.6 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    path: lane
    programme: [ramp: {to: 80 km/h}, hold: {settle: 2 s}, stop: {brake: 4 m/s2}]
  cutter:
    kind: vehicle
    body: {length: 4.0 m, width: 1.7 m}
    limits: {speed: 90 km/h, accelerate: 2 m/s2, brake: 6 m/s2}
    path: change
    programme: [ramp: {to: 60 km/h}, hold: {settle: 2 s}, stop: {}]
encounters:
  cut: {kind: gap, of: subject, with: cutter, time to collision: 3 s, at: end of cutter.cut}
"""


def test_who_cuts_in_drives_on_far_enough_for_the_one_behind_to_stop() -> None:
    case = case_at(loads(CUT_IN, "cut-in.yaml", Path()), None)
    assert answer(case).plan.verdict == "feasible"
