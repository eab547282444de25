"""`choreo stress` as a user runs it: the answer, its files and exit codes, and what is refused."""

import csv
import json
from pathlib import Path

import pytest

import choreo as library
from tests.running import choreo, choreo_alone

TOO_LARGE = "scenarios/errors-too-large.yaml"
IN_STEP = "scenarios/errors-in-step.yaml"
STATION = "scenarios/errors-station-trigger.yaml"
IMPOSSIBLE = "scenarios/impossible/runway-too-short-for-the-trigger.yaml"


def test_budget_too_large_is_told_with_its_chance_shares_and_marks(tmp_path: Path) -> None:
    done = choreo("stress", TOO_LARGE, "--runs", "3000", "--chance", "95 %")
    assert done.returncode == 1, done.stderr
    lines = done.stdout.splitlines()
    assert lines[0].startswith("VALID IN 3")
    assert lines[1].startswith("Valid in 3")
    assert "tries a valid run. 3000 runs drawn, seed 1." in " ".join(lines[1:3])
    assert "Wanted: 95 %, which it is too rarely." in " ".join(lines[1:4])
    first = done.stdout.split("what moves the impact point of contact")[1].splitlines()[2]
    assert first.split()[:2] == ["walker:", "speed"]
    marks = "subject: along its path its start mark matters not at all; 10 cm beside it move the impact point"
    assert f"{marks} of contact by 10 cm" in " ".join(done.stdout.split())
    assert "walker: 10 cm of start mark move the impact point of contact by 10 cm" in done.stdout
    assert "* assumed, common practice, no source" in lines
    assert any(line.split("|")[-1].startswith("#") for line in lines if "|" in line)
    assert any(line.split("|")[-1].startswith("x") for line in lines if "|" in line)


def test_station_trigger_leaves_more_to_the_cars_speed_than_a_time_to_collision(
    tmp_path: Path,
) -> None:
    scenario = library.load(Path(STATION))
    by_station = library.stress(library.plan(scenario), runs=4000)
    text = Path(STATION).read_text().replace("{station: free}", "{time to collision: free}")
    folder = Path("scenarios").resolve()
    text = text.replace("site: ", f"site: {folder}/").replace("fleet: ", f"fleet: {folder}/")
    file = tmp_path / "by-time.yaml"
    file.write_text(text)
    by_time = library.stress(library.plan(library.load(file)), runs=4000)
    assert by_station.chance.high < 0.65
    assert by_time.chance.low > 0.95
    largest = by_station.first_order["contact"].shares[0]
    source = by_station.sources[largest.source]
    assert (source.owner, source.kind) == ("subject", "speed held")
    # 1 % of 3.96 s at 5 km/h.
    assert largest.spread == pytest.approx(0.01 * 3.96 * 5 / 3.6, rel=0.01)


def test_runs_are_the_same_in_the_document_and_in_the_table(tmp_path: Path) -> None:
    table = tmp_path / "runs.csv"
    arguments = ("stress", TOO_LARGE, "--only-given", "--runs", "200", "--csv", table, "--json")
    done = choreo(*arguments)
    assert done.returncode == 0, done.stderr
    document = json.loads(done.stdout)
    assert document["format"] == "choreo errors 1"
    assert (document["verdict"], document["enough"]) == ("feasible", None)
    assert all(one["given"] for one in document["errors"]["sources"])
    with table.open() as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == 200
    assert sum(int(row["valid"]) for row in rows) == document["errors"]["chance"]["valid"]
    values = [float(row["contact_m"]) for row in rows]
    mean = document["errors"]["encounters"]["contact"]["values"]["mean"]
    assert sum(values) / 200 == pytest.approx(mean, abs=1e-6)
    assert {"walker_speed_held_mps", "step_out_latency_s"} <= set(rows[0])
    before = table.read_bytes()
    assert choreo(*arguments).stdout == done.stdout
    assert table.read_bytes() == before


@pytest.mark.parametrize("width", [40, 72])
def test_answer_fits_the_width(width: int) -> None:
    done = choreo("stress", TOO_LARGE, "--runs", "100", "--width", str(width))
    assert done.returncode == 0
    assert max(map(len, done.stdout.splitlines())) <= width
    assert "\u2026" not in done.stdout


def test_scenario_without_a_plan_has_nothing_to_run() -> None:
    done = choreo("stress", IMPOSSIBLE)
    assert done.returncode == 1
    assert done.stdout.startswith("INFEASIBLE  80 km/h on a runway of 180 m\n")
    assert "`choreo why` says what doesn't fit" in done.stdout
    assert json.loads(choreo("stress", IMPOSSIBLE, "--json").stdout)["errors"] is None


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--runs", "0"), "0 runs say nothing: write at least 10"),
        (("--runs", "1000000000000"), "take days and tell nothing more: write up to 10000000"),
        (("--chance", "95"), "`95` has no unit"),
        (("--chance", "120 %"), "`120 %` is no chance"),
        (("--jobs", "0"), "--jobs"),
    ],
)
def test_what_cannot_be_asked_is_refused(arguments: tuple[str, str], words: str) -> None:
    done = choreo("stress", TOO_LARGE, *arguments)
    assert done.returncode == 2
    assert done.stdout == ""
    assert words in " ".join(done.stderr.split())


def test_page_shows_impacts_shares_and_poses_and_a_sheet_has_none(tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    assert choreo("show", STATION, "--stress", "-o", page).returncode == 0
    text = page.read_text()
    assert "With errors: valid in 59." in text
    assert text.count('class="errors-drawn"') == 3
    assert "all sources at once must be multiplied by 0." in text  # for 95 % of valid runs
    refused = choreo("show", TOO_LARGE, "--stress", "--sheet", "-o", tmp_path / "sheet.html")
    assert refused.returncode == 2
    assert "a run sheet has none" in refused.stderr


def test_releases_are_compared_on_the_runs_of_the_answer() -> None:
    found = json.loads(choreo("stress", STATION, "--triggers", "--runs", "1000", "--json").stdout)
    (compared,) = found["releases"]
    ways = {one["condition"]: one for one in compared["ways"]}
    assert compared["ways"][0]["condition"] == "time to collision"
    assert ways["station"]["own"]
    # The scenario's own way is what was run anyway.
    assert ways["station"]["chance"]["valid"] == found["errors"]["chance"]["valid"]
    assert compared["loss_ratio"] > 0.3
    assert found["authority"] == []


def test_one_that_goes_in_step_wins_where_speeds_wander_on() -> None:
    done = choreo("stress", IN_STEP, "--triggers", "--runs", "100", "--width", "110")
    assert done.returncode == 0, done.stderr
    (first, second) = done.stdout.split("needs, of subject\n")[1].splitlines()[:2]
    assert first.split()[:2] == ["in", "step"]
    valid = [float(line.split("  ")[-2]) for line in (first, second)]
    assert valid[0] > 95
    assert valid[1] < 70
    assert "is as good as the best" in done.stdout
    assert "It runs out 0.324 s before contact" in done.stdout


def test_runs_can_be_printed_instead_of_the_answer() -> None:
    done = choreo_alone("stress", STATION, "--runs", "10", "--csv", "-")
    assert done.returncode == 0
    assert [line.split(",")[0] for line in done.stdout.splitlines()] == [
        "run", *(str(number) for number in range(1, 11)),
    ]  # fmt: skip
    assert choreo("stress", STATION, "--csv", "-", "--json").returncode == 2
