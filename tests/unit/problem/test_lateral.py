"""Lateral accelerations as goals of ramps: the speed that has them, sqrt(a R), and their faults."""

import math
from dataclasses import replace
from pathlib import Path

import pytest

from choreo.case import answer
from choreo.case.record import case_of
from choreo.scenario import Span, loads
from choreo.verification import verify
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


SPIRAL = """
choreo: 1
title: Into a spiral
paths:
  way:
    start: [0 m, 0 m]
    pieces:
      - line: 200 m
      - clothoid: {length: 80 m, from: straight, to: -40 m}
      - arc: {radius: 40 m, angle: -90 deg}
      - line: 100 m
movers:
  subject:
    path: way
    body: {length: 4 m, width: 2 m}
    limits: {speed: 90 km/h, accelerate: 3 m/s2, brake: 6 m/s2, lateral: 6 m/s2}
    start: {station: 0 m}
    programme:
      - ramp: {to: SPEED}
      - hold: {until: GOAL lateral}
      - stop: {}
"""


@pytest.mark.parametrize(
    ("speed", "goal", "ends_m"),
    # Curvature grows by 1 / (40 m x 80 m) a metre: 1 m/s2 at 10 m/s is 0.01 / m. At the arc it is 1 / 40 m.
    [("36 km/h", "1 m/s2", 232.0), ("36 km/h", "2.5 m/s2", 280.0), ("54 km/h", "2.25 m/s2", 232.0)],
)
def test_a_hold_ends_where_the_curve_has_come_to_a_lateral_acceleration(
    speed: str, goal: str, ends_m: float
) -> None:
    text = SPIRAL.replace("SPEED", speed).replace("GOAL", goal)
    found = answer(case_of(loads(text, "spiral.yaml", Path())))
    assert found.plan.verdict == "feasible"
    (end,) = [one for one in found.plan.movers["subject"].events if one.name == "end of hold"]
    assert end.station_m == pytest.approx(ends_m, abs=1e-6)
    subject = found.scenario.movers["subject"]
    other = replace(subject.programme[1], until_lateral_mps2=1.7)
    programme = (subject.programme[0], other, *subject.programme[2:])
    scenario = replace(found.scenario, movers={"subject": replace(subject, programme=programme)})
    codes = {one.code for one in verify(scenario, found.paths, found.plan).findings}
    assert codes == {"verify.hold-lateral"}


@pytest.mark.parametrize(
    ("speed", "goal", "code", "told"),
    [
        ("36 km/h", "3 m/s2", "scenario.bad-value", "2.5 m/s2 at most"),
        ("30..36 km/h", "1 m/s2", "scenario.bad-value", "one speed"),
        ("36 km/h", "7 m/s2", "scenario.rate-over-limit", "6 m/s2"),
    ],
)
def test_a_lateral_acceleration_that_is_nowhere_ends_nothing(
    speed: str, goal: str, code: str, told: str
) -> None:
    text = SPIRAL.replace("SPEED", speed).replace("GOAL", goal)
    with pytest.raises(ChoreoError) as caught:
        case_of(loads(text, "spiral.yaml", Path()))
    (finding,) = caught.value.findings
    assert finding.code == code
    assert told in f"{finding.text} {finding.advice}"
