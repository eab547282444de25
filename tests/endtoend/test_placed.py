"""From `choreo place` to a plan on that site: the line that it tells, written into the scenario."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from choreo.commands.entry import group
from choreo.scenario import load

ROOT = Path(__file__).resolve().parents[2]
SCENARIOS = ROOT / "scenarios"


def told(*arguments: str) -> tuple[int, dict[str, object]]:
    """Exit code and document of a command."""
    done = CliRunner().invoke(group, [*arguments, "--json"])
    return done.exit_code, json.loads(done.stdout)


def written(folder: Path, name: str, line: str) -> Path:
    """A bundled scenario with one more line, its files found from another folder."""
    text = (SCENARIOS / f"{name}.yaml").read_text(encoding="utf-8")
    for shared in ("sites", "fleet"):
        text = text.replace(f": {shared}/", f": {SCENARIOS}/{shared}/")
    file = folder / f"{name}.yaml"
    file.write_text(f"{text}\n{line}\n", encoding="utf-8")
    return file


@pytest.mark.parametrize("name", ["junction-crossing", "child-seen-late"])
def test_scenario_is_planned_where_it_was_placed(name: str, tmp_path: Path) -> None:
    site = SCENARIOS / "sites" / "l-pad.yaml"
    code, placement = told("place", str(SCENARIOS / f"{name}.yaml"), "--site", str(site))
    assert code == 0
    line = str(placement["placed"]).replace("on: sites/", f"on: {SCENARIOS}/sites/")
    code, plan = told("plan", str(written(tmp_path, name, line)))
    assert code == 0
    best = placement["best"]
    assert isinstance(best, dict)
    space, movers = plan["space"], plan["movers"]
    assert isinstance(space, dict)
    assert isinstance(movers, dict)
    assert space["clear"]
    assert space["site"]["site"] == "Invented L-shaped pad"
    assert space["site"]["margin_m"] == pytest.approx(best["margin_m"], abs=2e-3)
    for mover, mark in best["starts"].items():
        assert movers[mover]["start"]["x_m"] == pytest.approx(mark["x_m"], abs=2e-3)
        assert movers[mover]["start"]["y_m"] == pytest.approx(mark["y_m"], abs=2e-3)


def test_place_on_a_missing_site_is_told_at_its_line(tmp_path: Path) -> None:
    file = written(tmp_path, "walker-nearside", "placed: {on: nowhere.yaml, at: [0 m, 0 m]}")
    code, document = told("plan", str(file))
    assert code == 2
    (fault,) = document["faults"]  # type: ignore[misc]
    assert fault["code"] == "input.missing-file"
    lines = file.read_text(encoding="utf-8").splitlines()
    assert lines[int(fault["place"].split(":")[-2]) - 1].startswith("placed")


def test_placed_scenario_is_another_one_for_its_plan(tmp_path: Path) -> None:
    here = load(written(tmp_path, "walker-nearside", "placed: {at: [0 m, 0 m]}"))
    there = load(written(tmp_path, "walker-nearside", "placed: {at: [0 m, 5 m], turned: 2 deg}"))
    assert here.meaning() != there.meaning()
    assert there.paths["lane"].start_m == pytest.approx((0.0, 5.0))


def test_placed_scenario_is_told_the_line_that_replaces_its_own(tmp_path: Path) -> None:
    pad = SCENARIOS / "sites" / "l-pad.yaml"
    line = f"placed: {{on: {pad}, at: [161 m, -295 m], turned: 103 deg}}"
    file = written(tmp_path, "walker-nearside", line)
    code, placement = told("place", str(file))
    assert code == 0
    better = written(tmp_path, "walker-nearside", str(placement["placed"]))
    code, plan = told("plan", str(better))
    assert code == 0
    space, best = plan["space"], placement["best"]
    assert isinstance(space, dict)
    assert isinstance(best, dict)
    assert space["site"]["margin_m"] == pytest.approx(best["margin_m"], abs=2e-3)


def test_name_of_a_site_that_yaml_would_misread_is_quoted(tmp_path: Path) -> None:
    odd = tmp_path / "pad #1, {v2}: a.yaml"
    odd.write_text(
        (SCENARIOS / "sites" / "strip.yaml").read_text(encoding="utf-8"), encoding="utf-8"
    )
    file = written(tmp_path, "walker-nearside", "")
    _, placement = told("place", str(file), "--site", str(odd))
    code, _ = told("plan", str(written(tmp_path, "walker-nearside", str(placement["placed"]))))
    assert code == 0


def test_limits_that_the_ground_takes_do_not_confuse_why(tmp_path: Path) -> None:
    # The subject's acceleration is a table here: no repair changes it, and none must be kept.
    pad = SCENARIOS / "sites" / "l-pad.yaml"
    line = f"placed: {{on: {pad}, at: [55.822 m, 49.092 m], turned: 173.6147 deg}}"
    code, document = told("why", str(written(tmp_path, "junction-crossing", line)))
    assert code == 0
    assert document["verdict"] == "feasible"
