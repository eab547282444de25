"""Faulty files: every code of the areas input and scenario has one, and it is told at its place.

A line that ends in `# here` is where the finding must point.
"""

import json
import os
import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from choreo.commands.check import command
from choreo.measured.file import load_measured
from choreo.scenario import load, loads
from choreo.words import CATALOGUE, ChoreoError, Finding
from tests.unit.scenario.example import EVERYTHING, FAULTY, WALKER, write_everything

FILES = sorted(FAULTY.glob("*.yaml"))
AREAS = ("input.", "scenario.")
# Codes that no small scenario file can cause; each has a test of its own, below or of its subject.
WITHOUT_FILE = {"input.too-large", "input.unreadable", "scenario.left-out", "scenario.measured"}
# Failed checks of the room that a plan takes; `check` alone does not solve.
TOLD_BY_A_PLAN = {
    "space.aside",
    "space.cone-near", "space.cone-touched", "space.leaves-site", "space.may-touch",
    "space.sight-missed", "space.stop-touches",
}  # fmt: skip
PROGRAMMER_WORDS = (
    "None",
    "dict",
    "tuple",
    "http",
    "pydantic",
    "Input should",
    "<class",
    "['",
)


def findings_of(path: Path) -> tuple[Finding, ...]:
    try:
        return load(path).notes
    except ChoreoError as error:
        return error.findings


def faults_in(text: str) -> list[Finding]:
    with pytest.raises(ChoreoError) as caught:
        loads(text, "a.yaml", Path())
    return list(caught.value.findings)


def test_catalogue_and_faulty_files_are_equal() -> None:
    codes = {code for code in CATALOGUE if code.startswith(AREAS)}
    files = {path.stem for path in FILES if path.stem.startswith(AREAS)}
    assert files == codes - WITHOUT_FILE


@pytest.mark.parametrize(
    "path", [path for path in FILES if path.stem.startswith(AREAS)], ids=lambda path: path.stem
)
def test_faulty_file_gives_its_own_code_at_its_place(path: Path) -> None:
    found = findings_of(path)
    others = {"scenario.unknown-key"} if path.stem == "input.more-faults" else set()
    assert {finding.code for finding in found} - others == {path.stem}
    lines = path.read_bytes().splitlines()
    wanted = {number for number, line in enumerate(lines, 1) if line.endswith(b"# here")}
    if wanted:
        assert {finding.origin.line for finding in found if finding.origin} == wanted
        assert {Path(finding.origin.file) for finding in found if finding.origin} == {path}


@pytest.mark.parametrize(
    "path", [path for path in FILES if path.stem not in TOLD_BY_A_PLAN], ids=lambda path: path.stem
)
def test_messages_use_no_programmer_words(path: Path) -> None:
    done = CliRunner().invoke(command, [str(path), "--json"])
    (looked_at,) = json.loads(done.stdout)["files"]
    assert looked_at["faults"]
    for fault in looked_at["faults"]:
        told = f"{fault['text']} {fault['advice']}"
        assert [word for word in PROGRAMMER_WORDS if word in told] == []
        assert re.search(r"\{[a-z_]+\}", told) is None


def test_fault_in_a_survey_points_into_the_survey() -> None:
    (finding,) = findings_of(FAULTY / "scenario.not-in-survey.yaml")
    assert finding.origin is not None
    assert (Path(finding.origin.file).name, finding.origin.line) == ("points.csv", 3)


SURVEYS = [
    ("", "header"),
    ("x,y\n0,0\n1,0\n", "header"),
    ("x_m,y_m\n0,0\n", "only one point"),
    ("x_m,y_m\n", "no point"),
    ("x_m,y_m\n0,0\n0,0\n1,1\n", "same as the one before"),
    ("x_m,y_m\n0,0\nnan,1\n", "not a point"),
    ("x_m,y_m\n0,0\n1e9,1\n", "not a point"),
    ("x_m,y_m\n0,0\n1,2,3\n", "not a point"),
    ("x_m,y_m\n0,0\n1_0,2\n", "not a point"),
    ('x_m,y_m\n0,0\n"' + "1" * 200_000 + '",2\n', "not a point"),
]


@pytest.mark.parametrize(("survey", "told"), SURVEYS)
def test_unusable_survey_is_told(tmp_path: Path, survey: str, told: str) -> None:
    path = write_everything(tmp_path)
    (tmp_path / "points.csv").write_text(survey, encoding="utf-8")
    texts = [finding.text for finding in findings_of(path)]
    assert any(told in text for text in texts), texts


def test_all_faults_of_a_file_are_told_at_once() -> None:
    text = (
        WALKER.replace("to: 40 km/h", "to: 40")
        .replace("path: crossing", "path: crosing")
        .replace("latency: 60 ms", "latencie: 60 ms")
        .replace("overlap: 50 %", "overlap: 500 %")
        .replace("{for: step_out}", "{for: stepout}")
    )
    codes = [finding.code for finding in faults_in(text)]
    assert codes == [
        "scenario.bad-value",
        "scenario.unknown-name",
        "scenario.unknown-name",
        "scenario.unknown-key",
    ]


def test_faulty_entry_is_not_told_as_missing_by_those_that_refer_to_it() -> None:
    faulty = WALKER.replace("kind: pedestrian", "kind: pedestrain")
    assert [finding.code for finding in faults_in(faulty)] == ["scenario.bad-choice"]
    assert "pedestrian" in faults_in(faulty)[0].advice
    faulty = WALKER.replace("with: walker", "wiht: walker")
    codes = {finding.code for finding in faults_in(faulty)}
    assert codes == {"scenario.unknown-key", "scenario.missing-key"}


ONE_FAULT = [
    ("overlap: 50 %", "overlap: -101 %", "scenario.bad-value", "-100 %"),
    ("overlap: 50 %", "overlap: 50", "scenario.bad-value", "50 %"),
    ("tolerance: 0.05 m", "tolerance: 0 m", "scenario.bad-value", "a length over zero"),
    ("latency: 60 ms", "latency: -1 ms", "scenario.bad-value", "zero up"),
    ("brake: 6 m/s2", "brake: -6 m/s2", "scenario.bad-value", "`brake: 6 m/s2`"),
    ("to: 40 km/h", "to: 50..30 km/h", "scenario.bad-value", "`30..50 km/h`"),
    ("to: 40 km/h", "to: [40 km/h]", "scenario.bad-value", "not a list"),
    ("{settle: 2 s, until: contact}", "{settle: free}", "scenario.bad-value", "2 s"),
    ("station: free", "station: -5 m", "scenario.bad-value", "zero up"),
    ("to: 40 km/h", "to: nan km/h", "scenario.bad-value", "40 km/h"),
    ("when: {time to collision: free}", "when: {}", "scenario.one-of", "exactly one"),
    (
        "settle: 2 s, until: contact",
        "until: launch walker",
        "scenario.bad-value",
        "launch of MOVER",
    ),
    ("settle: 2 s, until: contact", "until: end of walker.rmap", "scenario.unknown-name", "`ramp`"),
    (
        "settle: 2 s, until: contact",
        "until: end of waker.ramp",
        "scenario.unknown-name",
        "`walker`",
    ),
    ("settle: 2 s, until: contact", "until: contakt", "scenario.unknown-name", "`contact`"),
    ("watch: subject", "watch: subjekt", "scenario.unknown-name", "`subject`"),
    ("latency: 60 ms", "to: contct", "scenario.unknown-name", "`contact`"),
    ("latency: 60 ms", "during: ramp", "scenario.unknown-name", "Known here: `hold`"),
    ("with: walker", "with: walkre", "scenario.unknown-name", "`walker`"),
    ("{for: step_out}", "{for: 3}", "scenario.bad-value", "`3 s`"),
    ("{until: contact}", "{for: 3}", "scenario.bad-value", "a time or a length"),
    ("choreo: 1", "choreo: 2", "scenario.bad-choice", "`1`"),
    ("prefer: shortest runway", "prefer: highest", "scenario.bad-choice", "`highest NAME`"),
    (
        "settle: 2 s, until: contact",
        "until: contact, name: steady",
        "scenario.unknown-key",
        "`{hold: {...}, name: steady}`",
    ),
    (
        "pieces: [{line: 400 m}]",
        "pieces: [{line: 400 m}], pieces: []",
        "input.duplicate-key",
        "another name",
    ),
    ("start: [0 m, 0 m]", "start: [0 m]", "scenario.bad-shape", ""),
    ("start: [0 m, 0 m]", "start: [0 m, 0 m, 0 m]", "scenario.bad-shape", ""),
    ("pieces: [{line: 400 m}]", "pieces: []", "scenario.missing-key", "pieces"),
    ("pieces: [{line: 400 m}]", "pieces: {line: 400 m}", "scenario.bad-shape", ""),
    ("start: {station: free}", "start: {speed: 140 km/h}", "scenario.too-fast", "limits"),
    ("{to: 40 km/h}", "{to: 40 km/h, over: 9 m, within: 9 m}", "scenario.not-together", "one"),
    ("{to: 40 km/h}", "{to: 40 km/h, accelerate: 4 m/s2}", "scenario.rate-over-limit", "Lower"),
    ("front overhang: 3.40 m", "front overhang: 5 m", "scenario.bad-body", "0 m up"),
    ("length: 4.30 m", "length: 4300 m", "scenario.bad-body", "`4300 mm`"),
    ("width: 1.80 m", "width: 180 m", "scenario.bad-body", "`180 cm`"),
    ("width: 1.80 m", "width: 1.8 mm", "scenario.bad-body", "`1.8 m`"),
]


@pytest.mark.parametrize(("old", "new", "code", "told"), ONE_FAULT)
def test_one_fault_gives_one_finding_with_advice(old: str, new: str, code: str, told: str) -> None:
    assert old in WALKER
    findings = faults_in(WALKER.replace(old, new, 1))
    assert [finding.code for finding in findings] == [code]
    assert told in f"{findings[0].text} {findings[0].advice}"
    assert findings[0].origin is not None
    assert findings[0].origin.line > 0


def test_a_scenario_without_movers_stages_nothing() -> None:
    (finding,) = faults_in("choreo: 1\ntitle: nobody\nmovers: {}\n")
    assert (finding.code, finding.origin and finding.origin.line) == ("scenario.bad-value", 3)
    assert "at least one mover" in finding.advice


EVERYTHING_FAULTS = [
    (
        "vary: {test_speed: [20 km/h, 40 km/h]}",
        "vary: {test_sped: [20 km/h]}",
        "scenario.unknown-name",
    ),
    ("[20 km/h, 40 km/h]", "[20 km/h, 40 m]", "scenario.bad-value"),
    ("[20 km/h, 40 km/h]", "[]", "scenario.bad-value"),
    ("like: midsize", "like: midsise", "scenario.unknown-name"),
    ("values: {test_speed: 40 km/h", "values: {test_speed: 40 kmh", "scenario.bad-value"),
    ("station: $room", "station: $test_speed", "scenario.bad-value"),
    ("beside: turn", "beside: trun", "scenario.unknown-name"),
    ("from: 10 m, to: 50 m", "from: 50 m, to: 10 m", "scenario.bad-value"),
    (
        "  survey: {surveyed: points.csv}",
        "  straight: {surveyed: points.csv}",
        "scenario.same-name",
    ),
    ("name: cut_in}", "name: cut_in}\n      - {line: 3 m, name: cut_in}", "scenario.same-name"),
    ("T0: {before: end of subject.cut_in", "T0: {before: T2", "scenario.unknown-name"),
    ("T0: {before: end of subject.cut_in", "T0: {before: T1", None),
    (
        "stand: {at: [310 m, -3 m]",
        "start: {}\n    stand: {at: [310 m, -3 m]",
        "scenario.not-together",
    ),
    ("time gap: 1.0 s", "time gap: free", "scenario.bad-value"),
    ("time gap: 1.0 s", "time gap: 1.0 s, distance: 3 m", "scenario.one-of"),
    ("distance: 1..2 m, first", "distance: 1..2 m, tolerance: 1 s, first", "scenario.bad-value"),
    ("{0 km/h: 3.5 m/s2, 60", "{70 km/h: 3.5 m/s2, 60", "scenario.bad-value"),
    ("surveyed: points.csv", "surveyed: pts.csv", "input.missing-file"),
    ("site: site.yaml", "site: fleet.yaml", "scenario.not-the-kind"),
    ("radius: 50 m", "radius: 0 m", "scenario.bad-value"),
    ("angle: -30 deg", "angle: 0 deg", "scenario.bad-value"),
    ("to: -50 m}", "to: 0 m}", "scenario.bad-value"),
    ("clothoid length: 5 m", "clothoid length: 5 m, clothoid angle: 9 deg", "scenario.one-of"),
    ("length: 60 m, transition", "length: 60 m, radius: 9 m, transition", "scenario.not-together"),
    ("reversed: yes", "reversed: on", "scenario.bad-value"),
]


@pytest.mark.parametrize(("old", "new", "code"), EVERYTHING_FAULTS)
def test_fault_among_everything_is_told(
    tmp_path: Path, old: str, new: str, code: str | None
) -> None:
    path = write_everything(tmp_path)
    assert old in EVERYTHING
    path.write_text(EVERYTHING.replace(old, new, 1), encoding="utf-8")
    codes = {finding.code for finding in findings_of(path) if finding.severity == "error"}
    assert (code in codes) if code else not codes


@pytest.mark.parametrize("fleet", ["{a: b}", "[[x]]", "[x, {}]"])
def test_fleet_that_names_no_files_is_one_fault_without_programmer_words(
    tmp_path: Path, fleet: str
) -> None:
    path = write_everything(tmp_path)
    assert "fleet: [fleet.yaml]" in EVERYTHING
    path.write_text(EVERYTHING.replace("fleet: [fleet.yaml]", f"fleet: {fleet}"), encoding="utf-8")
    (fault,) = [one for one in findings_of(path) if one.text.startswith("fleet")]
    assert fault.code == "scenario.bad-value"
    assert [word for word in PROGRAMMER_WORDS if word in fault.text] == []
    assert "[fleet.yaml, others.yaml]" in fault.advice


def test_speed_over_the_limit_names_both_lines() -> None:
    (finding,) = findings_of(FAULTY / "scenario.too-fast.yaml")
    assert finding.origin is not None
    assert [place.line for place in finding.related] == [finding.origin.line - 2]


def test_too_large_file_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "large.yaml"
    path.write_bytes(b"#" * 5_000_001)
    assert [finding.code for finding in findings_of(path)] == ["input.too-large"]


def test_pipe_is_refused_instead_of_waiting_for_it(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    assert [finding.code for finding in findings_of(pipe)] == ["input.unreadable"]


def test_unreadable_file_is_told_with_the_reason(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.yaml"
    path.write_text(WALKER, encoding="utf-8")

    def refuse(*_args: object, **_kwargs: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)
    (finding,) = findings_of(path)
    assert (finding.code, "Permission denied" in finding.text) == ("input.unreadable", True)


@pytest.mark.parametrize("name", ["nowhere.yaml", "a\0b.yaml", "x" * 5000])
def test_file_that_cannot_be_is_refused(tmp_path: Path, name: str) -> None:
    (finding,) = findings_of(tmp_path / name)
    assert finding.code in ("input.missing-file", "input.unreadable")


MEASURED = [
    ("name,quantity\n", "header"),
    ("name,quantity,value\nsubjct,station,3 m\n", "no mover named `subjct`"),
    ("name,quantity,value\nsubject,station,3\n", "has no unit"),
    ("name,quantity,value\nsubject,speed,3 m/s\n", "not a quantity here"),
    ("name,quantity,value\nsubject,x,3 m\n", "only one of x and y"),
    ("name,quantity,value\nstep_out,latency\n", "2 columns"),
    ("name,quantity,value\nstep_out,latency,-5 ms\n", "latency of step_out is negative"),
    ("name,quantity,value\nsubject,x,3 m\nsubject,x,4 m\n", "x of subject stands here again"),
]


@pytest.mark.parametrize(("text", "told"), MEASURED)
def test_unusable_measured_file_is_told(tmp_path: Path, text: str, told: str) -> None:
    path = tmp_path / "measured.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ChoreoError) as caught:
        load_measured(path, loads(WALKER, "walker.yaml", Path()))
    assert {finding.code for finding in caught.value.findings} == {"scenario.measured"}
    assert any(told in finding.text for finding in caught.value.findings)


def test_file_with_another_header_is_one_fault(tmp_path: Path) -> None:
    path = tmp_path / "measured.csv"
    path.write_text("mover,what\n" + "subject,station,a,b\n" * 50, encoding="utf-8")
    with pytest.raises(ChoreoError) as caught:
        load_measured(path, loads(WALKER, "walker.yaml", Path()))
    assert [str(one.origin) for one in caught.value.findings] == [f"{path}:1:1"]


def test_measured_mark_by_station_and_by_point_names_all_lines(tmp_path: Path) -> None:
    path = tmp_path / "measured.csv"
    rows = "subject,x,3 m\nsubject,station,3 m\nsubject,y,0 m\n"
    path.write_text("name,quantity,value\n" + rows, encoding="utf-8")
    with pytest.raises(ChoreoError) as caught:
        load_measured(path, loads(WALKER, "walker.yaml", Path()))
    (finding,) = caught.value.findings
    assert finding.origin is not None
    assert "both `station` and a point" in finding.text
    assert [finding.origin.line, *(place.line for place in finding.related)] == [3, 2, 4]


@pytest.mark.parametrize("key", ["x", "y"])
def test_half_a_measured_point_is_told_at_the_line_that_is_there(tmp_path: Path, key: str) -> None:
    path = tmp_path / "measured.csv"
    rows = f"walker,station,1 m\n\nsubject,{key},3 m\n"
    path.write_text("name,quantity,value\n" + rows, encoding="utf-8")
    with pytest.raises(ChoreoError) as caught:
        load_measured(path, loads(WALKER, "walker.yaml", Path()))
    assert [str(finding.origin) for finding in caught.value.findings] == [f"{path}:4:1"]


def test_measured_marks_and_latencies_arrive(tmp_path: Path) -> None:
    path = tmp_path / "measured.csv"
    rows = "subject,station,12.34 m\nwalker,x,310 m\nwalker,y,-4 m\nstep_out,latency,75 ms\n"
    path.write_text("name,quantity,value\n" + rows, encoding="utf-8")
    measured = load_measured(path, loads(WALKER, "walker.yaml", Path()))
    assert measured.stations_m == {"subject": 12.34}
    assert measured.points_m == {"walker": (310.0, -4.0)}
    assert measured.latencies_s == {"step_out": 0.075}


COMPANION = """\
choreo: 1
title: with a companion
{named}
movers: {{post: {{stand: {{at: [0 m, 0 m]}}, body: {{length: 1 m, width: 1 m}}}}}}
"""


@pytest.mark.parametrize(
    ("named", "companion", "where"),
    [
        ("fleet: other.yaml", "choreo fleet: 1\nmovers: [{lane: x}]\n", "movers"),
        ("site: other.yaml", "choreo site: 1\npaths: [{lane: x}]\n", "paths"),
        ("site: other.yaml", "choreo site: 1\nareas: [{lane: x}]\n", "areas"),
        ("site: other.yaml", "choreo site: 1\nobstacles: word\n", "obstacles"),
    ],
)
def test_list_where_names_belong_is_refused_at_its_place(
    named: str, companion: str, where: str, tmp_path: Path
) -> None:
    (tmp_path / "other.yaml").write_text(companion, encoding="utf-8")
    (tmp_path / "a.yaml").write_text(COMPANION.format(named=named), encoding="utf-8")
    (finding,) = findings_of(tmp_path / "a.yaml")
    assert finding.text == f"{where} should be a block of keys"
    assert finding.origin is not None
    assert (Path(finding.origin.file).name, finding.origin.line) == ("other.yaml", 2)
