"""A gap that holds from a phase's start to its end: planned so, proven impossible, its drift told."""

from pathlib import Path

import pytest

from choreo.plans.message import messages_of
from choreo.plans.record import Plan
from choreo.scenario import loads
from choreo.words import ChoreoError
from tests.answers import timing_of

KMH = 1 / 3.6

TEXT = """choreo: 1
title: two in a lane
paths:
  straight: {start: [0 m, 0 m], pieces: [{line: 900 m}]}
  bend: {start: [0 m, 0 m], pieces: [{line: 300 m}, {arc: {radius: 200 m, angle: 60 deg}}, {line: 500 m}]}
movers:
  subject:
    path: PATH
    body: {length: 4 m, width: 1.8 m, front overhang: 3 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    programme: [{ramp: {to: 60 km/h}}, {hold: {for: 20 s}}, {stop: {brake: 5 m/s2}}]
  lead:
    path: PATH
    body: {length: 4 m, width: 1.8 m, front overhang: 3 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    start: {station: 150 m}
    programme: [{ramp: {to: SPEED}}, {hold: {}}, {stop: {brake: 5 m/s2}}]
encounters:
  follow: {kind: gap, of: subject, with: lead, GAP, during: subject.hold}
"""


def planned(gap: str, path: str = "straight", speed: str = "60 km/h") -> Plan:
    """Two cars; the one behind holds 60 km/h for 20 s."""
    text = TEXT.replace("GAP", gap).replace("PATH", path).replace("SPEED", speed)
    return timing_of(loads(text, "held.yaml", Path()))


@pytest.mark.parametrize(("gap", "value"), [("distance: 20 m", 20.0), ("time gap: 1.2 s", 1.2)])
def test_at_one_speed_a_gap_holds_without_drift(gap: str, value: float) -> None:
    plan = planned(gap)
    follow = plan.encounters["follow"]
    assert plan.verdict == "feasible"
    assert follow.until_s == pytest.approx(follow.time_s + 20.0, abs=1e-6)
    assert follow.held == pytest.approx((value, value), abs=1e-5)
    # The lead has its speed before the gap is judged, and keeps it until then.
    ends = {event.name: event.time_s for event in plan.movers["lead"].events}
    assert ends["end of ramp"] <= follow.time_s + 2e-3
    assert follow.until_s is not None
    assert ends["end of hold"] >= follow.until_s - 2e-3


@pytest.mark.parametrize("path", ["straight", "bend"])
def test_at_two_speeds_no_gap_holds_and_the_proof_says_why(path: str) -> None:
    plan = planned("distance: 20 m", path, "55 km/h")
    assert plan.verdict == "infeasible"
    # In 20 s the lead falls back by 5 km/h; 0.1 m of drift is allowed. Along the bend bounds of it are proven.
    assert plan.budgets[0].short_by == pytest.approx(20.0 * 5.0 * KMH - 0.1, abs=1e-3)


def test_a_drift_inside_the_tolerance_is_planned_as_small_as_it_can_be_and_told() -> None:
    plan = planned("distance: 20 m, tolerance: 3 m", speed="59.5 km/h")
    follow = plan.encounters["follow"]
    assert plan.verdict == "feasible"
    assert follow.held is not None
    assert follow.held[1] - follow.held[0] == pytest.approx(20.0 * 0.5 * KMH, abs=1e-3)


@pytest.mark.parametrize(
    ("gap", "wrong", "advice"),
    [
        ("time to collision: 2 s", "no time to collision holds", "Write `distance` or `time gap`"),
        ("distance: 20 m, at: end of subject.ramp", "2 of `at`, `during`", "Keep exactly one"),
    ],
)
def test_what_cannot_hold_is_refused(gap: str, wrong: str, advice: str) -> None:
    with pytest.raises(ChoreoError) as caught:
        planned(gap)
    (message,) = messages_of(caught.value.findings)
    assert wrong in message.text
    assert message.advice.startswith(advice)


LOOP = """  loop:
    start: [0 m, 0 m]
    pieces: [{line: 100 m}, {arc: {radius: 40 m, angle: 180 deg}}, {line: 200 m}]
"""


def test_no_ramp_is_many_times_as_long_for_a_gap_that_drifts_a_millimetre_in_a_bend() -> None:
    """Both marks are given: gentler ramps open the gap, and a bend lets it drift a little whatever they do."""
    text = TEXT.replace("paths:\n", f"paths:\n{LOOP}").replace("path: PATH", "path: loop")
    text = text.replace("GAP", "distance: 50 m").replace("to: SPEED", "to: 40 km/h")
    text = text.replace("to: 60 km/h", "to: 40 km/h").replace("{for: 20 s}", "{for: 22 s}")
    text = text.replace("brake: 6 m/s2}", "brake: 6 m/s2, jerk: 5 m/s3}")
    text = text.replace("start: {station: 150 m}", "start: {station: 60 m}")
    text = text.replace(
        "5 m/s3}\n    programme", "5 m/s3}\n    start: {station: 0 m}\n    programme"
    )
    plan = timing_of(loads(text, "held.yaml", Path()))
    assert plan.verdict == "feasible"
    assert len(plan.movers) == 2
    for mover in plan.movers.values():
        ends = {event.name: event.time_s for event in mover.events}
        assert ends["end of ramp"] - mover.launch_s < 6.0  # 4.3 s at its limit
