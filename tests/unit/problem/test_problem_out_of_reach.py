"""A contact that starts or path ends forbid is reported with where it would be. All figures invented."""

from pathlib import Path

import pytest

from choreo.problem import build_staging
from choreo.scenario import loads
from choreo.words import ChoreoError, Finding

FILE = Path(__file__).parents[3] / "scenarios" / "faulty" / "problem.meeting-out-of-reach.yaml"
START = "start: {station: 320 m}"


def fault_with(*changes: tuple[str, str]) -> Finding:
    text = FILE.read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    with pytest.raises(ChoreoError) as caught:
        build_staging(loads(text, "a.yaml", Path()))
    (finding,) = caught.value.findings
    return finding


def test_start_beyond_the_crossing_is_told_with_both_stations() -> None:
    finding = fault_with()
    assert finding.code == "problem.meeting-out-of-reach"
    # The walker's near side is in front of the car's front, 2.15 m ahead of its middle: 310 - 0.25 - 2.15 m.
    assert (
        "at station 307.600 m of the path of subject and 4.000 m of that of walker" in finding.text
    )
    assert finding.text.endswith("but subject starts at station 320.000 m")


CHANGES = [
    (
        (START, "start: {station: 320..350 m}"),
        "subject starts at the earliest at station 320.000 m",
    ),
    (("line: 400 m", "line: 300 m"), "the path of subject ends at 300.000 m"),
    (("start: [0 m, 0 m]", "start: [312 m, 0 m]"), "the path of subject begins 4.400 m after that"),
    (("line: 9 m", "line: 3 m"), "the path of walker ends at 3.000 m"),
]


@pytest.mark.parametrize(("change", "why"), CHANGES)
def test_end_that_is_too_near_is_named(change: tuple[str, str], why: str) -> None:
    start = () if START in change[0] else ((START, "start: {station: free}"),)
    finding = fault_with(*start, change)
    assert finding.code == "problem.meeting-out-of-reach"
    assert finding.text.endswith(f"but {why}")
    assert len(finding.related) == 1


def test_paths_that_never_meet_are_told_as_before() -> None:
    turned = ("start: [310 m, -4 m], heading: 90 deg", "start: [310 m, -40 m], heading: 0 deg")
    finding = fault_with((START, "start: {station: free}"), turned)
    assert finding.code == "problem.no-meeting"
    assert "their bodies never touch" in finding.text


def test_a_door_that_does_not_turn_far_enough_is_told_in_degrees() -> None:
    door = FILE.parents[1] / "door-opens-before-cyclist.yaml"
    text = door.read_text(encoding="utf-8").replace("by: -70 deg", "by: -20 deg")
    with pytest.raises(ChoreoError) as caught:
        build_staging(loads(text, str(door), door.parent))
    (finding,) = caught.value.findings
    # Its middle is 0.55 m from the hinge.
    assert finding.text.endswith("deg of that of door, but the path of door ends at 20.00 deg")


DOOR = """
choreo: 1
title: a door that opens before who passes it
paths: {lane: {start: [0 m, 0 m], pieces: [{line: 300 m}]}}
movers:
  subject:
    body: {length: 2.1 m, width: 0.8 m}
    limits: {speed: 80 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    path: lane
    programme: [ramp: {to: 30 km/h}, hold: {settle: 2 s, until: contact}, stop: {}]
  door:
    turns: {about: [200.5 m, -1.04 m], by: -70 deg, from: 180 deg}
    body: {length: 1.1 m, width: 0.1 m}
    limits: {speed: 120 deg/s, accelerate: 400 deg/s2, brake: 400 deg/s2}
    programme: [wait: {for: near}, ramp: {to: 60 deg/s}, stop: {}]
triggers: {near: {watch: subject, when: {time to collision: 1.5 s}}}
encounters: {contact: {kind: contact, of: subject, with: door, overlap: 25 %, point: front centre}}
"""


def test_what_turns_is_not_looked_for_straight_beyond_its_turn() -> None:
    with pytest.raises(ChoreoError) as caught:
        build_staging(loads(DOOR, "door.yaml", Path()))
    (finding,) = caught.value.findings
    assert finding.code == "problem.no-meeting"
    assert finding.text.endswith("the nearest these paths allow is -0.506 m")
    assert "`by:`" in finding.advice
    assert "path" not in finding.advice


ONE_LANE = """
choreo: 1
title: one lane, and a share taken for how much of two widths overlaps
paths: {lane: {start: [0 m, 0 m], pieces: [{line: 300 m}]}}
movers:
  subject:
    path: lane
    body: {length: 4 m, width: 1.8 m}
    limits: {speed: 100 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    programme: [ramp: {to: 30 km/h}, hold: {until: hit}, stop: {}]
  target: {path: lane, body: {length: 4 m, width: 1.8 m}, start: {station: 200 m}}
encounters: {hit: {kind: contact, of: subject, with: target, overlap: 100 %}}
"""


def test_an_overlap_that_is_none_is_told_as_the_one_to_write() -> None:
    with pytest.raises(ChoreoError) as caught:
        build_staging(loads(ONE_LANE, "lane.yaml", Path()))
    (finding,) = caught.value.findings
    assert finding.text.endswith("is +0.000 m (`overlap: 50 %`: where on its front)")
