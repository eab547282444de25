"""What newcomers write first: each slip is one fault, and its advice is the line to write."""

from pathlib import Path

import pytest

from choreo.scenario import load, loads
from choreo.words import ChoreoError
from tests.unit.scenario.example import WALKER

# Text of the example, what a newcomer writes instead, what the advice says.
SLIPS = [
    ("latency: 60 ms", "latency: 0,06 s", "Write `latency: 0.06 s`."),
    ("station: free", "station: 0-3 m", "Write `0..3 m`."),
    ("station: free", "station: 0 m - 3 m", "Write `0..3 m`."),
    ("to: 40 km/h", "to: 30-50 km/h", "Write `30..50 km/h`."),
    ("to: 40 km/h", "to: [30 km/h, 50 km/h]", "Write `30 km/h..50 km/h`."),
    ("start: {station: free}", "start: 200 m", "Write `start: {station: 200 m}`."),
    ("start: {station: free}", "start: {station:free}", "Write `station: free`, with a space"),
    ("- ramp: {to: 40 km/h}", "- ramp: 40 km/h", "Write `ramp: {to: 40 km/h}`."),
    ("- ramp: {to: 40 km/h}", "- ramp 40 km/h", "Write `- ramp: {to: 40 km/h}`."),
    ("- stop: {brake: 5 m/s2}", "- stop", "Write `- stop: {}`."),
    ("- wait: {for: step_out}", "- wait: step_out", "Write `wait: {for: step_out}`."),
    ("- wait: {for: step_out}", "- wait: 2 s", "Write `wait: {lasting: 2 s}`."),
    ("to: 40 km/h", "to: 40 km/h, accelerate: -6 m/s2", "Write `brake: 6 m/s2`"),
    ("brake: 6 m/s2", "brake: -6 m/s2", "Write `brake: 6 m/s2`"),
    ("overlap: 50 %", "overlap: 0.5", "Write `50 %`."),
    ("overlap: 50 %", "overlap: 50 % +/- 5 %", "Write `50 %`; what may be missed"),
    ("time to collision: free", "ttc: free", "Did you mean `time to collision`?"),
    ("stop: {brake: 5 m/s2}", "stop: {decelerate: 5 m/s2}", "Did you mean `brake`?"),
    ("kind: pedestrian", "kind: walker", "Did you mean `pedestrian`?"),
    ("- ramp: {to: 40 km/h}", "- accelerate: {to: 40 km/h}", "Write `- ramp: {to: 40 km/h, "),
    ("ramp: {to: 40 km/h}", "ramp: {to: 40 km/h, speed: 40 km/h}", "Did you mean `to`?"),
    ("settle: 2 s, until: contact", "distance: 50 m", "Write `for: 50 m`."),
    ("latency: 60 ms", "latency: 1 min 30 s", "Write `90 s`"),
    ("{line: 400 m}", "{line: 1,000 m}", "Write `line: 1000 m`, or `line: 1.000 m`."),
]


@pytest.mark.parametrize(("old", "new", "advice"), SLIPS)
def test_advice_is_the_line_to_write(old: str, new: str, advice: str) -> None:
    assert old in WALKER
    with pytest.raises(ChoreoError) as caught:
        loads(WALKER.replace(old, new, 1), "a.yaml", Path())
    (finding,) = caught.value.findings
    assert finding.advice.startswith(advice) or f" {advice}" in finding.advice


def test_a_pedestrian_without_limits_gets_a_pedestrians_example() -> None:
    limits = "    limits: {speed: 10 km/h, accelerate: 2 m/s2, brake: 2 m/s2, jerk: 20 m/s3}\n"
    assert limits in WALKER
    with pytest.raises(ChoreoError) as caught:
        loads(WALKER.replace(limits, ""), "a.yaml", Path())
    advice = [one.advice for one in caught.value.findings]
    assert advice == ["Add `speed: 10 km/h`.", "Add `accelerate: 2 m/s2`.", "Add `brake: 2 m/s2`."]


def test_names_for_entries_are_asked_for_where_a_list_stands() -> None:
    text = WALKER[: WALKER.index("triggers:")] + "triggers:\n  - {watch: subject}\n"
    with pytest.raises(ChoreoError) as caught:
        loads(text, "a.yaml", Path())
    assert any("as `NAME:`" in one.advice for one in caught.value.findings)


def test_a_file_in_a_folder_below_is_named_before_one_that_is_alike(tmp_path: Path) -> None:
    (tmp_path / "circuits").mkdir()
    for name in ("circuits/stone-setts.yaml", "eight-on-stone-setts.yaml"):
        (tmp_path / name).write_text("choreo circuit: 1\n")
    with pytest.raises(ChoreoError) as caught:
        load(tmp_path / "stone-setts.yaml")
    (finding,) = caught.value.findings
    assert finding.advice == "Did you mean `circuits/stone-setts.yaml`?"


@pytest.mark.parametrize(
    ("missing", "advice"),
    [
        ("nofile.yaml", "Check the path."),
        ("walker-2.yaml", "Did you mean `walker.yaml`?"),
        ("walker.yml", "Did you mean `walker.yaml`?"),
    ],
)
def test_files_are_alike_by_their_names_but_for_the_ending(
    tmp_path: Path, missing: str, advice: str
) -> None:
    for name in ("ns.yaml", "walker.csv", "walker.yaml"):
        (tmp_path / name).write_text("choreo: 1\n")
    with pytest.raises(ChoreoError) as caught:
        load(tmp_path / missing)
    assert caught.value.findings[0].advice == advice


def test_signals_are_told_to_need_a_description(tmp_path: Path) -> None:
    file = tmp_path / "own.csv"
    file.write_text("t,x\n0,0\n")
    with pytest.raises(ChoreoError) as caught:
        load(file)
    (finding,) = caught.value.findings
    assert "`choreo recording: 1`" in finding.advice
    assert "`files: own.csv`" in finding.advice
