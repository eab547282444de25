"""choreo show as a user runs it: files written, exit codes, nothing written where there is no run."""

import json
from dataclasses import replace
from pathlib import Path

from choreo.export.files import save_plan
from tests.answers import whole
from tests.running import ROOT, Done, choreo

GOOD = ROOT / "scenarios" / "walker-nearside.yaml"
IMPOSSIBLE = ROOT / "scenarios" / "impossible" / "runway-too-short-for-the-trigger.yaml"


def show(folder: Path, *arguments: object) -> Done:
    """Run the command in a folder of its own."""
    return choreo("show", *arguments, folder=folder)


def test_page_and_sheet_are_named_after_the_scenario(tmp_path: Path) -> None:
    assert choreo("show", GOOD, folder=tmp_path).returncode == 0
    assert show(tmp_path, GOOD, "--sheet").returncode == 0
    assert {file.name for file in tmp_path.iterdir()} == {
        "walker-nearside.html", "walker-nearside-sheet.html",
    }  # fmt: skip
    assert (tmp_path / "walker-nearside.html").read_text().startswith("<!doctype html>")


def test_output_goes_where_it_is_asked_and_standard_output_stays_empty(tmp_path: Path) -> None:
    done = show(tmp_path, GOOD, "-o", "plan.html")
    assert (done.returncode, done.stdout) == (0, "")
    assert "feasible: page saved to plan.html" in done.stderr


def test_impossible_scenario_gives_a_page_but_no_run_sheet(tmp_path: Path) -> None:
    assert show(tmp_path, IMPOSSIBLE, "-o", "why.html").returncode == 1
    assert "43.971 m" in (tmp_path / "why.html").read_text()
    done = show(tmp_path, IMPOSSIBLE, "--sheet", "-o", "sheet.html")
    assert done.returncode == 1
    assert "nothing written" in done.stderr
    assert not (tmp_path / "sheet.html").exists()


def test_json_tells_the_file_and_the_verdict(tmp_path: Path) -> None:
    done = show(tmp_path, GOOD, "--json", "-o", "plan.html")
    assert json.loads(done.stdout) == {"file": "plan.html", "verdict": "feasible"}


def test_a_folder_that_is_not_there_is_bad_input(tmp_path: Path) -> None:
    done = show(tmp_path, GOOD, "-o", tmp_path / "nowhere" / "plan.html")
    assert done.returncode == 2
    assert "can't be written" in done.stderr


def test_plan_adds_a_picture_when_asked() -> None:
    plain, drawn = (
        choreo("plan", GOOD, "--width", "80", *extra).stdout for extra in ([], ["--picture"])
    )
    assert drawn.startswith(plain)
    assert "plan view, up is 345 deg" in drawn
    assert max(len(line) for line in drawn.splitlines()) <= 80


def test_a_saved_plan_is_shown_under_a_scenario_and_what_cannot_be_drawn_is_refused(
    tmp_path: Path,
) -> None:
    old = tmp_path / "old.json"
    plan = whole("walker-nearside").plan
    moved = replace(plan.movers["walker"].start, x_m=plan.movers["walker"].start.x_m + 0.5)
    walker = replace(plan.movers["walker"], start=moved)
    save_plan(replace(plan, movers=plan.movers | {"walker": walker}), old)
    assert show(tmp_path, old, GOOD, "-o", "both.html").returncode == 0
    page = (tmp_path / "both.html").read_text()
    assert "walker: start mark, x" in page
    assert "Not drawn of it: walker, on a path" in page
    for files, words in (
        ((GOOD, old), "`walker` drove in this plan on another path than"),
        ((old, old), "bodies and paths to draw them with are in a scenario"),
        ((old, GOOD, "--sheet"), "of one plan, not of two"),
    ):
        done = show(tmp_path, *files, "-o", "none.html")
        assert done.returncode == 2
        assert words in done.stderr
    assert not (tmp_path / "none.html").exists()
