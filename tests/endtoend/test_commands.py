"""The commands as a user runs them: answers, exit codes, files left behind."""

import json
import os
from pathlib import Path
from typing import Any

import pytest

from choreo.repair import region
from tests.running import ROOT, choreo, choreo_alone

GOOD = "scenarios/walker-nearside.yaml"
IMPOSSIBLE = "scenarios/impossible/runway-too-short-for-the-trigger.yaml"


def test_plan_begins_with_the_verdict_and_ends_with_the_caution() -> None:
    done = choreo_alone("plan", GOOD)
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    assert lines[0].startswith("FEASIBLE  ")
    assert "independent simulation agrees" in lines[1]
    for words in ("start marks", "triggers", "runway", "peaks against limits", "encounters"):
        assert words in done.stdout
    assert "responsible test-safety staff decide" in done.stdout.split("caution")[1].replace(
        "\n  ", " "
    )


@pytest.mark.parametrize("width", [40, 80, 140])
def test_answer_fits_the_width_and_cuts_nothing(width: int) -> None:
    done = choreo("plan", GOOD, "--width", str(width))
    assert max(len(line) for line in done.stdout.splitlines()) <= width
    assert "…" not in done.stdout
    wide = choreo("plan", GOOD, "--width", "140").stdout
    numbers = {word for word in wide.split() if any(c.isdigit() for c in word)}
    together = done.stdout.replace("\n", " ")
    missing = [word for word in numbers if word not in together]
    assert missing == []


def test_piped_answer_has_no_colour_codes_and_no_trailing_blanks() -> None:
    done = choreo("plan", GOOD)
    assert "\x1b" not in done.stdout
    assert all(line == line.rstrip() for line in done.stdout.splitlines())


def test_json_is_one_document_with_the_promised_keys() -> None:
    done = choreo("plan", GOOD, "--json")
    plan = json.loads(done.stdout)
    assert {"format", "verdict", "title", "prefer", "movers", "triggers", "encounters"} <= set(plan)
    assert {"budgets", "conflicts", "repairs", "warnings", "verification"} <= set(plan)
    subject = plan["movers"]["subject"]
    assert {"station_m", "x_m", "y_m", "heading_deg"} <= set(subject["start"])
    assert {"launch_s", "launched_by", "events", "pieces", "runway", "peak"} <= set(subject)
    assert {"run_up_m", "encounter_m", "run_out_m", "total_m"} <= set(subject["runway"])
    encounter = plan["encounters"]["contact"]
    assert {"kind", "time_s", "wanted", "predicted", "unit", "tolerance", "within"} <= set(
        encounter
    )
    assert {"method", "worst_encounter_error", "worst_limit_use", "agrees"} <= set(
        plan["verification"]
    )


def test_pieces_reproduce_the_motion_exactly() -> None:
    plan = json.loads(choreo("plan", GOOD, "--json").stdout)
    assert set(plan["movers"]) == {"subject", "walker"}
    for mover in plan["movers"].values():
        assert len(mover["pieces"]) > 3
        for piece, following in zip(mover["pieces"], mover["pieces"][1:], strict=False):
            d, v, a, j = (
                piece[key] for key in ("duration_s", "speed_mps", "accel_mps2", "jerk_mps3")
            )
            assert piece["start_s"] + d == pytest.approx(following["start_s"], abs=1e-9)
            station = piece["station_m"] + d * (v + d * (a / 2 + d * j / 6))
            assert station == pytest.approx(following["station_m"], abs=1e-9)
            assert v + d * (a + d * j / 2) == pytest.approx(following["speed_mps"], abs=1e-9)


def test_infeasible_answers_one_and_shows_the_budget() -> None:
    done = choreo("plan", IMPOSSIBLE)
    assert done.returncode == 1
    assert done.stdout.startswith("INFEASIBLE")
    assert "short by" in done.stdout


def test_infeasible_plan_document_holds_no_marks() -> None:
    plan = json.loads(choreo("plan", IMPOSSIBLE, "--json").stdout)
    assert plan["movers"] == {}
    assert plan["budgets"][0]["short_by"] > 0


def test_saved_plan_is_still_good_and_a_changed_scenario_is_noticed(tmp_path: Path) -> None:
    scenario = tmp_path / "a.yaml"
    text = (ROOT / GOOD).read_text().replace("fleet: ", f"fleet: {ROOT}/scenarios/")
    text = text.replace("site: ", f"site: {ROOT}/scenarios/")
    scenario.write_text(text)
    plan = tmp_path / "plan.json"
    assert choreo("plan", str(scenario), "-o", str(plan)).returncode == 0
    assert choreo("check", str(scenario), "--plan", str(plan)).returncode == 0
    scenario.write_text("# a comment changes nothing\n" + text)
    assert choreo("check", str(scenario), "--plan", str(plan)).returncode == 0
    scenario.write_text(text.replace("60 ms", "70 ms"))
    done = choreo("check", str(scenario), "--plan", str(plan))
    assert done.returncode == 1
    assert "fingerprint" in done.stderr


def test_damaged_plan_is_bad_input(tmp_path: Path) -> None:
    plan = tmp_path / "plan.json"
    for text in ("", "{", "[]", '{"format": "choreo plan 1"}', '{"format": "other"}'):
        plan.write_text(text)
        done = choreo("check", GOOD, "--plan", str(plan))
        assert done.returncode == 2
        assert "Traceback" not in done.stderr


def test_failing_write_leaves_the_old_file_whole(tmp_path: Path) -> None:
    from choreo.export.files import write_whole
    from choreo.words import ChoreoError

    target = tmp_path / "plan.json"
    target.write_text("old")
    real = os.replace

    def broken(*_paths: object) -> None:
        raise OSError(28, "No space left on device")

    os.replace = broken  # type: ignore[assignment]
    try:
        with pytest.raises(ChoreoError) as caught:
            write_whole(target, "new")
    finally:
        os.replace = real
    assert caught.value.findings[0].code == "plan.not-written"
    assert target.read_text() == "old"
    assert [path.name for path in tmp_path.iterdir()] == ["plan.json"]


def test_several_texts_are_written_together_or_not_at_all(tmp_path: Path) -> None:
    from choreo.export.files import write_all
    from choreo.words import ChoreoError

    first, folder = tmp_path / "first", tmp_path / "folder"
    first.write_text("old")
    first.chmod(0o640)
    folder.mkdir()
    for bad in (folder, tmp_path / "no" / "file", Path("/dev/full")):
        with pytest.raises(ChoreoError) as caught:
            write_all([(first, "new"), (bad, "new")])
        (finding,) = caught.value.findings
        assert (finding.code, str(finding.origin)) == ("plan.not-written", f"{bad}:1:1")
        assert first.read_text() == "old"
    with pytest.raises(ChoreoError) as caught:
        write_all([(tmp_path / "second", "new"), (first, "new")], [str(first)])
    assert caught.value.findings[0].code == "plan.would-overwrite-input"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["first", "folder"]
    write_all([(first, "new"), (tmp_path / "second", "two"), (Path("/dev/null"), "three")])
    assert (first.read_text(), (tmp_path / "second").read_text()) == ("new", "two")
    assert first.stat().st_mode & 0o777 == 0o640


def test_what_somebody_wrote_is_not_lost_under_something_else(tmp_path: Path) -> None:
    from choreo.export.files import check_target, write_all, write_whole
    from choreo.words import ChoreoError

    fleet, page = tmp_path / "fleet.yaml", tmp_path / "page.html"
    fleet.write_text("# ours\n\nchoreo fleet: 1\n")
    page.write_text("<!DOCTYPE html>\n<script>\nchoreo: 1\n</script>\n")
    for lost in (
        lambda: write_whole(fleet, '{"format": "choreo plan"}\n'),
        lambda: write_all([(tmp_path / "new", "new"), (fleet, iter(("a,b\n", "1,2\n")))]),
        lambda: write_whole(fleet, "choreo: 1\n"),
        lambda: check_target(fleet, (), "scenario"),
    ):
        with pytest.raises(ChoreoError) as caught:
            lost()
        assert caught.value.findings[0].text.startswith("this is a fleet, written by hand")
    assert fleet.read_text() == "# ours\n\nchoreo fleet: 1\n"
    assert not (tmp_path / "new").exists()
    check_target(fleet, (), "fleet")
    write_whole(fleet, "choreo fleet: 1\n# newer\n")
    write_whole(page, "<!DOCTYPE html>\n")
    write_whole(page, "{}")
    assert (fleet.read_text(), page.read_text()) == ("choreo fleet: 1\n# newer\n", "{}")


def test_plan_into_a_folder_that_is_not_there_is_bad_input(tmp_path: Path) -> None:
    done = choreo("plan", GOOD, "-o", str(tmp_path / "no" / "plan.json"))
    assert done.returncode == 2
    assert "can't be written" in done.stderr


@pytest.mark.parametrize(
    "arguments",
    [
        [],
        ["plan"],
        ["plan", "a.yaml", "--no-such"],
        ["nonsense"],
        ["check", "a", "b", "--plan", "c"],
    ],
)
def test_wrong_usage_answers_two(arguments: list[str]) -> None:
    done = choreo(*arguments)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr


def test_every_command_has_help_with_an_example() -> None:
    for command in ("plan", "check", "schema"):
        done = choreo(command, "--help")
        assert done.returncode == 0
        assert f"choreo {command}" in done.stdout
        assert "Example" in done.stdout


def test_check_says_well_of_every_good_scenario() -> None:
    files = sorted(str(path.relative_to(ROOT)) for path in (ROOT / "scenarios").glob("*.yaml"))
    done = choreo("check", *files)
    assert done.returncode == 0, done.stdout + done.stderr
    assert done.stdout.count(": well") == len(files)


def test_check_tells_impossible_from_faulty() -> None:
    assert choreo("check", IMPOSSIBLE).returncode == 1
    faulty = sorted((ROOT / "scenarios" / "faulty").glob("*.yaml"))[0]
    assert choreo("check", str(faulty)).returncode == 2


STAGED = """name,quantity,value
subject,station,{station}
step_out,latency,{latency}
"""


def test_staged_marks_in_tolerance_and_out_of_it(tmp_path: Path) -> None:
    plan = json.loads(choreo("plan", GOOD, "--json").stdout)
    start = plan["movers"]["subject"]["start"]["station_m"]
    latency = plan["triggers"]["step_out"]["latency_s"]
    measured = tmp_path / "measured.csv"
    measured.write_text(STAGED.format(station=f"{start:.6f} m", latency=f"{latency * 1e3:.3f} ms"))
    done = choreo("check", GOOD, "--staged", str(measured), "--json")
    assert done.returncode == 0, done.stderr
    # A latency longer by 0.1 s lets the walker be 0.1 s * 5 km/h = 0.139 m late.
    measured.write_text(STAGED.format(station=f"{start:.6f} m", latency=f"{latency + 0.1:.6f} s"))
    done = choreo("check", GOOD, "--staged", str(measured), "--json")
    assert done.returncode == 1
    document = json.loads(done.stdout)
    contact = document["encounters"]["contact"]
    shift = abs(contact["as_staged"] - contact["wanted"][0])
    assert shift == pytest.approx(0.1 * 5 / 3.6, abs=1e-3)
    (trigger,) = [c for c in document["corrections"] if c["what"].startswith("trigger")]
    assert trigger["corrected"] - trigger["planned"] == pytest.approx(0.1, abs=1e-3)


def test_faulty_measured_file_names_every_line(tmp_path: Path) -> None:
    measured = tmp_path / "measured.csv"
    measured.write_text(
        "name,quantity,value\nnobody,station,3 m\nsubject,station,3\nsubject,hat,3 m\n"
    )
    done = choreo("check", GOOD, "--staged", str(measured))
    assert done.returncode == 2
    for line in (2, 3, 4):
        assert f"measured.csv:{line}:" in done.stderr


def staged(tmp_path: Path, lines: str) -> dict[str, object]:
    """What `check --staged --json` says of the good scenario with some measured lines."""
    measured = tmp_path / "measured.csv"
    measured.write_text("name,quantity,value\n" + lines)
    done = choreo("check", GOOD, "--staged", str(measured), "--json")
    assert done.returncode in (0, 1), done.stderr
    document: dict[str, object] = json.loads(done.stdout)
    return document


def test_mark_beside_its_path_counts(tmp_path: Path) -> None:
    """0.5 m ahead of the crossing costs the walker 0.5 m / 40 km/h of walking at 5 km/h: 0.0625 m (elementary)."""
    document = staged(tmp_path, "walker,x,450.5 m\nwalker,y,-4 m\n")
    assert document["within"] is False
    contact = document["encounters"]["contact"]  # type: ignore[index]
    assert abs(contact["as_staged"]) == pytest.approx(0.5 / 8, abs=1e-3)


def test_mark_that_costs_the_settling_is_not_in_tolerance(tmp_path: Path) -> None:
    document = staged(tmp_path, "subject,station,370 m\n")
    assert document["within"] is False
    assert any("settled" in one["code"] for one in document["broken"])  # type: ignore[attr-defined]


def test_pass_whose_later_mover_slows_is_a_warning(tmp_path: Path) -> None:
    scenario = tmp_path / "pass.yaml"
    scenario.write_text(
        """
choreo: 1
title: a pass
paths:
  lane: {start: [0 m, 0 m], heading: 0 deg, pieces: [{line: 600 m}]}
  side: {start: [300 m, -200 m], heading: 90 deg, pieces: [{line: 400 m}]}
movers:
  subject:
    path: lane
    body: {length: 4 m, width: 2 m}
    limits: {speed: 100 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    programme: [{ramp: {to: 40 km/h}}, {hold: {settle: 2 s, until: miss}}, {stop: {}}]
  target:
    path: side
    body: {length: 4 m, width: 2 m}
    limits: {speed: 100 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    programme: [{ramp: {to: 40 km/h}}, {hold: {settle: 2 s, until: miss}}, {stop: {}}]
encounters:
  miss: {kind: pass, of: subject, with: target, first: target, time: 1 s}
"""
    )
    plan = json.loads(choreo("plan", str(scenario), "--json").stdout)
    assert "plan.pass-slows" in [warning["code"] for warning in plan["warnings"]]


def test_why_tells_budget_and_numbered_repairs() -> None:
    done = choreo("why", IMPOSSIBLE)
    assert done.returncode == 1
    assert "short by" in done.stdout
    assert "any ONE of these makes it work" in done.stdout
    assert "can't help alone" in done.stdout
    document = json.loads(choreo("why", IMPOSSIBLE, "--json").stdout)
    speed = next(r for r in document["repairs"] if r["changes"][0]["quantity"] == "subject speed")
    assert speed["changes"][0]["then"] * 3.6 == pytest.approx(68.03, abs=0.01)


def test_why_of_a_feasible_scenario_tells_the_room_left() -> None:
    done = choreo("why", GOOD)
    assert done.returncode == 0
    assert "room before the plan breaks" in done.stdout
    touched = choreo("why", "scenarios/faulty/space.cone-touched.yaml", "--seconds", "1")
    assert "NOT CLEAR" in touched.stdout
    assert touched.returncode == 1


def test_why_applies_a_repair_to_a_file_that_then_plans_feasible(tmp_path: Path) -> None:
    fixed = tmp_path / "fixed.yaml"
    done = choreo("why", IMPOSSIBLE, "--apply", "2", "-o", str(fixed))
    assert done.returncode == 0, done.stderr
    assert choreo("plan", str(fixed)).returncode == 0
    again = tmp_path / "again.yaml"
    assert choreo("why", IMPOSSIBLE, "--apply", "99", "-o", str(again)).returncode == 2
    assert not again.exists()


def test_why_maps_a_region_as_picture_and_as_data(monkeypatch: pytest.MonkeyPatch) -> None:
    mapped: list[Any] = []

    def once(*arguments: Any) -> Any:
        """Map the region of the picture; the data are those of the same."""
        _, first, second, *ranges = arguments
        asked = [first.name, second.name, *ranges]
        if not mapped:
            mapped.extend([region(*arguments), asked])
        assert asked == mapped[1]
        return mapped[0]

    monkeypatch.setattr("choreo.commands.whys.region", once)
    over = ("--over", "subject speed=30..60 km/h", "--over", "step_out latency=10..300 ms")
    picture = choreo("why", GOOD, *over)
    assert picture.returncode == 0
    assert "#####" in picture.stdout
    columns = json.loads(choreo("why", GOOD, *over, "--json").stdout)["columns"]
    assert len(columns) > 10
    assert all(column["least"] is not None for column in columns)
    assert choreo("why", GOOD, "--over", "subject sped=1..2 km/h", *over[:2]).returncode == 2


@pytest.mark.parametrize("name", ["go", "time"])
def test_trigger_can_not_take_a_word_that_plans_use(tmp_path: Path, name: str) -> None:
    scenario = tmp_path / "a.yaml"
    text = (ROOT / GOOD).read_text().replace("step_out", name)
    text = text.replace("fleet: ", f"fleet: {ROOT}/scenarios/")
    scenario.write_text(text.replace("site: ", f"site: {ROOT}/scenarios/"))
    done = choreo("check", str(scenario))
    assert done.returncode == 2
    assert f"`{name}` can't be a name" in done.stderr


@pytest.mark.parametrize("command", ["check", "plan"])
def test_quantity_to_keep_that_is_not_there_is_refused_by_every_command(
    command: str, tmp_path: Path
) -> None:
    text = (ROOT / "scenarios/two-encounters.yaml").read_text(encoding="utf-8")
    for folder in ("sites", "fleet"):
        text = text.replace(f" {folder}/", f" {ROOT / 'scenarios' / folder}/")
    file = tmp_path / "kept.yaml"
    file.write_text(f"{text}\nkeep: [subject sped]\n", encoding="utf-8")
    done = choreo(command, str(file))
    assert done.returncode == 2
    assert "there is no quantity named `subject sped`" in done.stderr
    assert "Did you mean `subject speed" in done.stderr
