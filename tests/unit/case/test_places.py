"""Places that were not looked at prove nothing."""

from pathlib import Path

import pytest

from choreo.case import answer, by_rows
from choreo.case.record import case_of
from choreo.scenario import loads

# 46 m from front to rear along the loop, or that and a lap more or less, but never 30 m.
NEVER = """
choreo: 1
title: Two lanes of a loop
paths:
  loop:
    start: [0 m, 0 m]
    closed: yes
    pieces:
      - {line: 200 m}
      - {arc: {radius: 40 m, angle: 180 deg}}
      - {line: 200 m}
      - {arc: {radius: 40 m, angle: 180 deg}}
  outer: {beside: loop, offset: -3.5 m}
movers:
  a:
    path: loop
    body: {length: 4 m, width: 2 m}
    limits: {speed: 90 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    start: {station: 10 m}
    programme:
      - ramp: {to: 20 km/h, accelerate: 2 m/s2}
      - stop: {brake: 3 m/s2}
  b:
    path: outer
    body: {length: 4 m, width: 2 m}
    start: {station: 60 m}
encounters:
  near: {kind: gap, of: a, with: b, distance: 30 m, at: launch of a}
"""


def test_more_combinations_than_are_looked_at_prove_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    case = case_of(loads(NEVER, "a.yaml", Path()))
    assert len(case.staging.meetings["near"].candidates) == 3
    assert answer(case).plan.verdict == "infeasible"
    monkeypatch.setattr(by_rows, "MOST_PLACES", 2)
    assert answer(case).plan.verdict == "undecided"
