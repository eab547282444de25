"""Where answers go: pipes, devices, links, other encodings, and files that must not be written to."""

import json
import os
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from choreo.export.files import write_whole
from tests.running import ROOT, choreo

GOOD = "scenarios/walker-nearside.yaml"
FULL = Path("/dev/full")
NEEDS_FULL = pytest.mark.skipif(not FULL.exists(), reason="this system has no /dev/full")
NOT_WRITTEN = 74

LANE = """\
choreo: 1
title: TITLE
paths:
  road: {surveyed: road.csv}
movers:
  subject:
    path: road
    body: {length: 4.30 m, width: 1.80 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    programme:
      - ramp: {to: 40 km/h}
      - hold: {settle: 1 s, until: contact}
      - stop: {}
  lead:
    path: road
    body: {length: 4.30 m, width: 1.80 m}
    start: {station: 200 m}
encounters:
  contact: {kind: contact, of: subject, with: lead, overlap: 50 %}
"""


def choreo_into(*arguments: str, **options: object) -> subprocess.CompletedProcess[str]:
    """Run the command in a process of its own, its standard output or environment as given."""
    options = {"stdout": subprocess.PIPE, "encoding": "utf-8", **options}
    return subprocess.run(  # type: ignore[call-overload,no-any-return]
        [sys.executable, "-m", "choreo", *arguments],
        cwd=ROOT,
        stderr=subprocess.PIPE,
        check=False,
        **options,
    )


def lane(folder: Path, title: str = "a lane") -> Path:
    """Write a scenario with a straight surveyed road."""
    rows = "".join(f"{10 * i},0\n" for i in range(41))
    (folder / "road.csv").write_text(f"x_m,y_m\n{rows}", encoding="utf-8")
    path = folder / "lane.yaml"
    path.write_text(LANE.replace("TITLE", title), encoding="utf-8")
    return path


@NEEDS_FULL
@pytest.mark.parametrize(
    ("arguments", "unbuffered"),
    [
        (["plan", GOOD], ""),
        (["check", GOOD, "--json"], "1"),
        (["schema"], ""),
        (["schema"], "1"),
        (["--help"], ""),
    ],
)
def test_standard_output_that_fails_is_told_in_one_line(
    arguments: list[str], unbuffered: str
) -> None:
    environment = {**os.environ, "PYTHONUNBUFFERED": unbuffered}
    with FULL.open("w") as full:
        done = choreo_into(*arguments, stdout=full, env=environment)
    assert done.returncode == NOT_WRITTEN
    (line,) = done.stderr.splitlines()
    assert line.startswith("choreo: standard output can't be written")


def test_reader_that_goes_away_leaves_no_complaint() -> None:
    reading, writing = os.pipe()
    os.close(reading)
    done = choreo_into("schema", stdout=writing)
    os.close(writing)
    assert done.stderr == ""


def test_letters_that_the_encoding_lacks_are_replaced(tmp_path: Path) -> None:
    environment = {**os.environ, "PYTHONIOENCODING": "ascii"}
    done = choreo_into("plan", str(lane(tmp_path, "Fußgänger → 5")), env=environment)
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("FEASIBLE  Fu?g?nger ? 5\n")


@pytest.mark.parametrize("width", ["40", "100"])
def test_title_can_not_pass_for_a_verdict(tmp_path: Path, width: str) -> None:
    title = '"a\\n\\nINFEASIBLE  forged\\r' + "INFEASIBLE  x " * 200 + '"'
    done = choreo("plan", str(lane(tmp_path, title)), "--width", width)
    assert done.returncode == 0, done.stderr
    assert [line for line in done.stdout.splitlines() if line.startswith("INFEASIBLE")] == []
    head = done.stdout.split("An independent")[0]
    assert len(" ".join(head.split())) <= len("FEASIBLE ") + 200
    assert head.rstrip().endswith("...")


PLACE = ["place", "scenarios/stationary-target.yaml", "--smallest"]


@NEEDS_FULL
@pytest.mark.parametrize("arguments", [["plan", GOOD], ["plan", GOOD, "--json"], PLACE])
def test_answer_is_given_before_a_full_disk_is_told(arguments: list[str], tmp_path: Path) -> None:
    link = tmp_path / "full"
    link.symlink_to(FULL)
    done = choreo(*arguments, "-o", str(link))
    assert done.returncode == 2
    assert done.stdout == choreo(*arguments).stdout
    assert done.stderr.splitlines() == [
        f"{link}:1:1: error: the file can't be written: No space left on device",
        "    Make room there, or choose another folder.",
        "1 fault; the answer stands, it is not saved.",
    ]
    assert FULL.is_char_device()


@NEEDS_FULL
def test_export_lists_only_what_is_written(tmp_path: Path) -> None:
    link = tmp_path / "full"
    link.symlink_to(FULL)
    done = choreo("export", GOOD, "--json", "--marks", str(link))
    assert done.returncode == 2
    assert json.loads(done.stdout)["written"] == []
    assert "the answer stands" in done.stderr


def test_plan_is_saved_though_its_reader_has_gone(tmp_path: Path) -> None:
    reading, writing = os.pipe()
    os.close(reading)
    choreo_into("plan", GOOD, "-o", str(tmp_path / "plan.json"), stdout=writing)
    os.close(writing)
    assert json.loads((tmp_path / "plan.json").read_text())["verdict"] == "feasible"


@pytest.mark.parametrize("name", ["/dev/stderr", "/dev/fd/2"])
def test_standard_error_is_written_to_as_it_is(name: str, tmp_path: Path) -> None:
    into_a_pipe = choreo_into("schema", "-o", name)
    assert json.loads(into_a_pipe.stderr.split("schema saved")[0])["$schema"]
    errors = tmp_path / "errors"
    with errors.open("w") as stream:
        stream.write("before\n")
        stream.flush()
        code = subprocess.run(
            [sys.executable, "-m", "choreo", "schema", "-o", name], cwd=ROOT, stderr=stream
        ).returncode
    assert code == 0
    assert errors.read_text().startswith("before\n{")


def test_pipe_without_a_name_gets_the_plan() -> None:
    """As a shell's `>(command)` gives it: the link in /dev/fd leads to no name at all."""
    reading, writing = os.pipe()
    command = [sys.executable, "-m", "choreo", "plan", GOOD, "-o", f"/dev/fd/{writing}"]
    with subprocess.Popen(command, cwd=ROOT, pass_fds=[writing], stdout=subprocess.DEVNULL) as run:
        os.close(writing)
        with os.fdopen(reading) as stream:
            verdict = json.loads(stream.read())["verdict"]
    assert (run.returncode, verdict) == (0, "feasible")


def test_folder_that_is_missing_is_told_before_anything_is_planned(tmp_path: Path) -> None:
    done = choreo("plan", GOOD, "-o", str(tmp_path / "no" / "plan.json"))
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.endswith("1 fault; nothing was planned.\n")


def test_what_a_killed_writer_left_is_cleared_once_it_is_old(tmp_path: Path) -> None:
    target = tmp_path / "plan.json"
    names = {
        "old": (".plan.json.choreo-aaaaaaaa", True),
        "young": (".plan.json.choreo-bbbbbbbb", False),
        "another's": (".other.json.choreo-cccccccc", True),
        "no scratch": ("plan.json.old", True),
    }
    for name, old in names.values():
        (tmp_path / name).write_text("left")
        if old:
            os.utime(tmp_path / name, (1_000_000_000, 1_000_000_000))
    write_whole(target, "new")
    left = {path.name for path in tmp_path.iterdir()} - {"plan.json"}
    assert left == {name for key, (name, _) in names.items() if key != "old"}


def test_pipe_gets_the_plan_and_stays_a_pipe(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    got: list[str] = []
    reader = threading.Thread(target=lambda: got.append(pipe.read_text()), daemon=True)
    reader.start()
    done = choreo("plan", GOOD, "-o", str(pipe))
    reader.join(timeout=60)
    assert done.returncode == 0
    assert json.loads(got[0])["verdict"] == "feasible"
    assert pipe.is_fifo()


def test_link_stays_and_its_target_is_replaced(tmp_path: Path) -> None:
    folder = tmp_path / "plans"
    folder.mkdir()
    (folder / "real.json").write_text("old")
    link = tmp_path / "plan.json"
    link.symlink_to(Path("plans") / "real.json")
    assert choreo("plan", GOOD, "-o", str(link)).returncode == 0
    assert link.is_symlink()
    assert json.loads((folder / "real.json").read_text())["verdict"] == "feasible"
    assert [path.name for path in folder.iterdir()] == ["real.json"]


def test_link_to_itself_is_not_replaced(tmp_path: Path) -> None:
    link = tmp_path / "plan.json"
    link.symlink_to("plan.json")
    assert choreo("schema", "-o", str(link)).returncode == 2
    assert link.is_symlink()


@pytest.mark.parametrize("target", ["lane.yaml", "road.csv", "link"])
def test_input_is_never_overwritten(tmp_path: Path, target: str) -> None:
    scenario = lane(tmp_path)
    (tmp_path / "link").symlink_to("road.csv")
    before = {path.name: path.read_text() for path in tmp_path.iterdir()}
    done = choreo("plan", str(scenario), "-o", str(tmp_path / target))
    assert done.returncode == 2
    assert "is not overwritten" in done.stderr
    assert {path.name: path.read_text() for path in tmp_path.iterdir()} == before


@pytest.mark.parametrize(
    ("arguments", "name"), [(["plan", GOOD], "/dev/stdout"), (["schema"], "-")]
)
def test_document_goes_to_standard_output_alone(arguments: list[str], name: str) -> None:
    done = choreo_into(*arguments, "-o", name)
    assert done.returncode == 0
    assert {"format", "$schema"} & set(json.loads(done.stdout))
    assert done.stderr == ""


def test_standard_output_into_a_file_is_not_cut_off_from_it(tmp_path: Path) -> None:
    target = tmp_path / "plan.json"
    with target.open("w") as stream:
        assert choreo_into("plan", GOOD, "-o", "/dev/stdout", stdout=stream).returncode == 0
    assert json.loads(target.read_text())["verdict"] == "feasible"


def test_count_of_faults_says_what_was_not_done(tmp_path: Path) -> None:
    scenario = lane(tmp_path)
    scenario.write_text(scenario.read_text().replace("to: 40 km/h", "to: 40"))
    assert choreo("plan", str(scenario)).stderr.endswith("1 fault; nothing was planned.\n")
    assert choreo("check", str(scenario)).stderr.endswith("\n1 fault.\n")
    scenario.write_text(scenario.read_text().replace("station: 200 m", "station: 200"))
    assert choreo("check", str(scenario)).stderr.endswith("\n2 faults.\n")


@pytest.mark.parametrize("what", ["movers", "triggers", "encounters"])
@pytest.mark.parametrize("staged", [False, True])
def test_plan_that_names_more_than_the_scenario_is_a_fault(
    tmp_path: Path, what: str, staged: bool
) -> None:
    plan = json.loads(choreo("plan", GOOD, "--json").stdout)
    plan[what]["ghost"] = next(iter(plan[what].values()))
    file = tmp_path / "plan.json"
    file.write_text(json.dumps(plan))
    options = ["--staged", "scenarios/staged/walker-nearside.csv"] if staged else []
    done = choreo("check", GOOD, "--plan", str(file), "--json", *options)
    assert done.returncode == 2
    (fault,) = json.loads(done.stdout)["faults"]
    assert fault["code"] == "plan.other-names"
    assert f"{what} that" in fault["text"]
    assert "`ghost`" in fault["text"]
