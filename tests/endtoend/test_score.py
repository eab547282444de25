"""`choreo score` as a user runs it: answers, exit codes, documents, rows, and what is refused."""

import csv
import json
from pathlib import Path

import pytest

from tests.running import choreo

WALKER = "scenarios/errors-too-large.yaml"


@pytest.fixture(scope="module")
def runs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Simulated recordings of four runs and the plan that they drove."""
    folder = tmp_path_factory.mktemp("runs")
    done = choreo(
        "stress", WALKER, "--record", folder, "--runs", "7", "--record-antenna", "1 m, 0 m"
    )
    assert done.returncode == 0, done.stderr
    return folder


def truth(runs: Path) -> list[dict[str, str]]:
    return list(csv.DictReader((runs / "truth.csv").read_text().splitlines()[1:]))


def score(runs: Path, *more: object) -> tuple[int, str, str]:
    done = choreo("score", WALKER, runs / "recording.yaml", "--plan", runs / "plan.json", *more)
    return done.returncode, done.stdout, done.stderr


def test_series_is_told_as_it_was_drawn(runs: Path) -> None:
    table = runs / "rows.csv"
    code, text, _ = score(runs, "--csv", table)
    valid = [row["valid"] == "1" for row in truth(runs)]
    assert code == 1
    assert text.startswith(f"VALID {sum(valid)} OF 7")
    assert "Clopper-Pearson" in text
    assert "Simulated: no measurement." in text
    rows = list(csv.DictReader(table.read_text().splitlines()))
    assert [row["ruling"] == "valid" for row in rows] == valid
    values = [float(row["contact value m"]) for row in rows]
    assert values == pytest.approx([float(row["contact_m"]) for row in truth(runs)], abs=1e-3)


def test_one_run_is_told_whole_and_as_a_document(runs: Path) -> None:
    first = next(i for i, row in enumerate(truth(runs)) if row["valid"] == "1")
    file = runs / f"simulated-{first + 1:03d}.csv"
    code, text, _ = score(runs, "--run", file, "--next")
    assert code == 0
    assert text.startswith("VALID  Walker whose errors")
    for words in (
        "scenario, line",
        "walker meets the front of subject",
        "latency of the trigger",
        "damped: 50.0 %",
        "100 samples a second",
    ):
        assert words in text
    code, text, _ = score(runs, "--run", file, "--json")
    document = json.loads(text)
    assert document["format"] == "choreo scores 1"
    (run,) = document["runs"]
    assert run["ruling"] == "valid"
    (rule,) = run["judged"]
    assert rule["margin"] == pytest.approx(0.05 - abs(rule["worst"]))
    assert document["series"]["valid"] == 1


def test_faults_are_told_and_nothing_is_scored(runs: Path, tmp_path: Path) -> None:
    broken = tmp_path / "recording.yaml"
    broken.write_text((runs / "recording.yaml").read_text().replace("walker speed", "walker sped"))
    for file in runs.glob("simulated-*.csv"):
        (tmp_path / file.name).write_text(file.read_text())
    done = choreo("score", WALKER, broken, "--plan", runs / "plan.json")
    assert done.returncode == 2
    assert "has no channel `walker sped`" in done.stderr
    assert "Did you mean `walker speed`?" in done.stderr
    assert "nothing was scored" in done.stderr
    # One file that is broken takes nothing from the others.
    broken.write_text((runs / "recording.yaml").read_text())
    (tmp_path / "simulated-003.csv").write_text("")
    done = choreo("score", WALKER, broken, "--plan", runs / "plan.json")
    assert done.returncode == 2
    assert "OF 6" in done.stdout
    assert "simulated-003.csv:1:1: error: the recording can't be read: it is empty" in done.stderr
    assert "1 fault; the other 6 runs are scored." in done.stderr
    lines = (runs / "simulated-003.csv").read_text().splitlines(keepends=True)
    (tmp_path / "simulated-003.csv").write_text("".join(lines[:400]))
    done = choreo("score", WALKER, broken, "--plan", runs / "plan.json")
    assert (done.returncode, "OF 6" in done.stdout) == (2, True)
    assert (
        "simulated-003.csv:1:1: error: nothing in the recording says when go was: it ends"
        in done.stderr
    )
    other = choreo(
        "score", "scenarios/cut-in.yaml", runs / "recording.yaml", "--plan", runs / "plan.json"
    )
    assert other.returncode == 2
    assert "the plan is of another scenario" in " ".join(other.stderr.split())
    code, _, errors = score(runs, "--run", runs / "truth.csv")
    assert code == 2
    assert "no file of this recording" in " ".join(errors.split())
    impossible = "scenarios/impossible/runway-too-short-for-the-trigger.yaml"
    done = choreo("score", impossible, runs / "recording.yaml")
    assert done.returncode == 2
    assert "no plan that could have been driven: INFEASIBLE" in " ".join(done.stderr.split())


def test_learning_finds_what_was_drawn_and_the_scenario_runs_with_it(
    runs: Path, tmp_path: Path
) -> None:
    fleet = tmp_path / "learnt.yaml"
    arguments = ("learn", WALKER, runs / "recording.yaml", "--plan", runs / "plan.json")
    done = choreo(*arguments, "-o", fleet, "--limits", "--json")
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    # Rates and build-ups are the plan's times what was drawn, by it: 3 m/s2, 4 m/s3.
    achieved = [float(row["subject_achieved_acceleration_ratio"]) for row in truth(runs)]
    middle, built = (
        next(one for one in told[key] if one["owner"] == "subject" and wanted(one))
        for key, wanted in (
            ("rates", lambda one: 17.0 < 3.6 * one["from_mps"] < 22.0),
            ("build_ups", lambda one: one["way"] == "acceleration"),
        )
    )
    assert middle["way"] == "acceleration"
    assert middle["found"]["mean"] == pytest.approx(3.0 * sum(achieved) / 7, rel=0.01)
    assert built["found"]["mean"] == pytest.approx(0.75 * 7 / sum(achieved), rel=0.03)
    found = {(one["owner"], one["aspect"]): one for one in told["learnt"]}
    for owner, aspect, column in (
        ("walker", "start along", "walker_start_along_m"),
        ("walker", "speed held", "walker_speed_held_mps"),
        ("subject", "achieved acceleration", "subject_achieved_acceleration_ratio"),
    ):
        drawn = [float(row[column]) for row in truth(runs)]
        one = found[owner, aspect]
        assert one["found"]["count"] == 7
        assert one["found"]["mean"] == pytest.approx(
            sum(drawn) / 7, abs=0.05 * one["found"]["spread"]
        )
    text = Path(WALKER).read_text().replace("fleet/invented.yaml", str(fleet))
    scenario = tmp_path / "again.yaml"
    scenario.write_text(text.replace("sites/", f"{Path('scenarios/sites').resolve()}/"))
    checked = choreo("check", scenario)
    assert checked.returncode == 0, checked.stderr
    assert "7 simulated runs, no measurement" in fleet.read_text()
