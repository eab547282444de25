"""Lateral accelerations as goals of ramps: the speed that has them, sqrt(a R), and their faults."""

import math
from pathlib import Path

import pytest

from choreo.case import answer
from choreo.case.record import case_of
from choreo.scenario import Span, loads
from choreo.words import ChoreoError

CIRCLE = """
choreo: 1
title: Once round
paths:
  circle:
    start: [0 m, 0 m]
    pieces:
      - line: 100 m
      - {clothoid: {length: 40 m, from: straight, to: 80 m}, name: spiral}
      - {arc: {radius: 80 m, angle: 360 deg}, name: lap}
      - clothoid: {length: 40 m, from: 80 m, to: straight}
      - {line: 100 m, name: out}
      - {arc: {radius: 125 m, angle: 90 deg}, name: wide}
      - line: 200 m
movers:
  subject:
    path: circle
    body: {length: 4 m, width: 2 m}
    limits: {speed: 90 km/h, accelerate: 3 m/s2, brake: 6 m/s2, jerk: 5 m/s3, lateral: 6 m/s2}
    programme:
      - ramp: {to: 5 m/s2 lateral}
      - hold: {until: end of subject.lap}
      - ramp: {to: 0.4 g lateral, on: wide}
      - hold: {until: end of subject.wide}
      - stop: {}
"""


def speeds_of(text: str) -> list[Span]:
    scenario = case_of(loads(text, "a.yaml", Path())).scenario
    return [phase.to for phase in scenario.movers["subject"].programme if phase.kind == "ramp"]


def test_speed_is_that_of_the_tightest_place_or_of_the_piece() -> None:
    first, second = speeds_of(CIRCLE)
    assert first == Span.at(pytest.approx(math.sqrt(5 * 80)))
    assert second == Span.at(pytest.approx(math.sqrt(0.4 * 9.80665 * 125)))


def test_plan_reaches_the_lateral_acceleration_that_was_asked_for() -> None:
    text = CIRCLE.replace("      - ramp: {to: 0.4 g lateral, on: wide}\n", "")
    text = text.replace("      - hold: {until: end of subject.wide}\n", "")
    plan = answer(case_of(loads(text, "a.yaml", Path()))).plan
    assert plan.verdict == "feasible"
    peak = plan.movers["subject"].peak
    assert peak.lateral_mps2 == pytest.approx(5.0, abs=1e-6)


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("to: 5 m/s2 lateral", "to: 5 m/s2 lateral, on: out", "piece `out`, which has no curve"),
        ("to: 5 m/s2 lateral", "to: 7 m/s2 lateral", "7 m/s2"),
        ("lateral, on: wide", "lateral, on: wied", "`wied`"),
        ("to: 0.4 g lateral, on: wide", "to: 50 km/h, on: wide", "`on`"),
        ("to: 5 m/s2 lateral", "to: 40 km/h lateral", "km/h"),
        ("to: 5 m/s2 lateral", "to: 0 g lateral", "must be more than zero"),
        ("speed: 90 km/h", "speed: 70 km/h", "72"),
    ],
)
def test_faults_at_the_place_of_the_goal(old: str, new: str, told: str) -> None:
    assert old in CIRCLE
    text = CIRCLE.replace(old, new, 1)
    with pytest.raises(ChoreoError) as caught:
        case_of(loads(text, "a.yaml", Path()))
    assert any(told in one.text for one in caught.value.findings)
    place = caught.value.findings[0].origin
    assert place is not None
    assert "ramp:" in text.splitlines()[place.line - 1]
