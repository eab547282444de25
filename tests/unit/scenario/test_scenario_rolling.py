"""Rolling starts: launched at go or when it fits, and where the mover is before its launch."""

from pathlib import Path

import pytest

from choreo.case import Answer, answer, case_of
from choreo.scenario import loads
from choreo.words import ChoreoError

KMH = 1 / 3.6
TEXT = """choreo: 1
title: two rolling movers over given marks
paths:
  lane: {start: [0 m, 0 m], heading: 0 deg, pieces: [{line: 3000 m}]}
movers:
  subject:
    path: lane
    body: {length: 4 m, width: 1.8 m, front overhang: 3 m}
    limits: {speed: 150 km/h, accelerate: 3 m/s2, brake: 9 m/s2}
    start: {station: STATION, speed: 72 km/hAT}
    programme: [SUBJECT, {hold: {for: 0.5 s}}]
  other:
    path: lane
    body: {length: 4 m, width: 1.8 m, front overhang: 3 m}
    limits: {speed: 150 km/h, accelerate: 3 m/s2, brake: 9 m/s2}
    start: {station: 100 m, speed: 36 km/hAT}
    programme: [{hold: {for: 60 s}}]
encounters:
  gap: {kind: gap, of: subject, with: other, distance: GAP, at: EVENT}
"""


def told(*, station: str, gap: str, at: str, event: str, subject: str = "") -> Answer:
    """What choreo says of two on one lane, the subject at 72 km/h behind the other at 36 km/h."""
    text = TEXT.replace("STATION", station).replace("GAP", gap).replace("AT}", f"{at}}}")
    text = text.replace("EVENT", event).replace("SUBJECT", subject or "{hold: {for: 1 s}}")
    return answer(case_of(loads(text, "rolling.yaml", Path())))


def test_who_is_launched_at_go_is_at_its_mark_then() -> None:
    there = {"station": "50 m", "at": ", at: go", "event": "launch of subject"}
    plan = told(gap="46 m", **there).plan
    assert plan.verdict == "feasible"
    assert {one.launched_by for one in plan.movers.values()} == {"go"}
    assert {one.launch_s for one in plan.movers.values()} == {0.0}
    assert told(gap="47 m", **there).plan.verdict == "infeasible"


def test_marks_of_rolling_starts_are_of_no_common_moment() -> None:
    """The subject's mark lies before the other's, yet at its launch it is 30 m behind."""
    plan = told(station="250 m", gap="30 m", at="", event="launch of subject").plan
    assert plan.verdict == "feasible"
    earlier_s = plan.movers["subject"].launch_s - plan.movers["other"].launch_s
    assert earlier_s == pytest.approx((250 + 3 + 30 + 1 - 100) / (36 * KMH), abs=1e-6)


@pytest.mark.parametrize("speed", ["54 km/h", "53..55 km/h"])
def test_before_its_launch_a_rolling_mover_comes_towards_its_mark(speed: str) -> None:
    """The gap is judged when the subject has slowed down, seconds before the other reaches its mark."""
    plan = told(
        station="0 m",
        gap="20 m",
        at="",
        event="end of subject.ramp",
        subject=f"{{ramp: {{to: {speed}, brake: 2 m/s2}}}}",
    ).plan
    assert plan.verdict == "feasible"
    gap = plan.encounters["gap"]
    assert gap.station_with_m < 100
    rolled_m = 36 * KMH * (gap.time_s - plan.movers["other"].launch_s)
    assert gap.station_with_m == pytest.approx(100 + rolled_m, abs=1e-6)
    assert gap.predicted == pytest.approx(20, abs=1e-4)


@pytest.mark.parametrize("programme", ["[{wait: {for: 2 s}}, {hold: {for: 1 s}}]", "[]"])
def test_at_go_is_refused_where_it_would_say_nothing(programme: str) -> None:
    text = TEXT.replace("AT}", ", at: go}").replace("STATION", "50 m").replace("GAP", "46 m")
    text = text.replace("EVENT", "launch of other")
    text = text.replace("[SUBJECT, {hold: {for: 0.5 s}}]", programme)
    with pytest.raises(ChoreoError) as caught:
        loads(text, "rolling.yaml", Path())
    found = [one for one in caught.value.findings if one.code == "scenario.not-together"]
    assert len(found) == 1
    assert "`at: go`" in found[0].text
