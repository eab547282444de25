"""`choreo export` as a user runs it: tables, CSV, GeoJSON, and what it refuses."""

import csv
import json
import math
from pathlib import Path

import click
import pytest

from choreo.commands.export import command
from tests.running import ROOT, choreo, choreo_alone

GOOD = "scenarios/walker-nearside.yaml"
WITHOUT_SITE = "scenarios/steady-circle.yaml"
# What the good one's movers pass besides triggers and encounters.
ON_THE_WAY = ("start mark", "braking begins (stop)")
IMPOSSIBLE = "scenarios/impossible/runway-too-short-for-the-trigger.yaml"


def test_export_prints_places_tapes_and_the_caution() -> None:
    done = choreo("export", GOOD, "--grid", "EPSG:25832")
    assert done.returncode == 0, done.stderr
    for words in ("site frame", "on earth (ETRS89; grid EPSG:25832)", "by tape", "Easting"):
        assert words in done.stdout
    assert "responsible test-safety staff decide" in " ".join(done.stdout.split())
    assert "subject - walker" in done.stdout
    assert "walker: programme" in done.stdout


def test_scenario_without_site_is_exported_in_the_site_frame_alone() -> None:
    done = choreo("export", WITHOUT_SITE)
    assert done.returncode == 0, done.stderr
    assert "no anchor" in " ".join(done.stdout.split())
    assert "longitude\n" not in done.stdout


def test_marks_and_keep_out_area_are_written(tmp_path: Path) -> None:
    marks, keep_out = tmp_path / "marks.csv", tmp_path / "keep-out.geojson"
    done = choreo(
        "export", GOOD, "--marks", str(marks), "--keep-out", str(keep_out), "--grid", "25832"
    )
    assert done.returncode == 0, done.stderr
    with marks.open(encoding="utf-8", newline="") as stream:
        found = {row["name"]: row for row in csv.DictReader(stream)}
    on_the_way = {f"{who}: {what}" for who in ("subject", "walker") for what in ON_THE_WAY}
    assert set(found) == {"subject", "walker", "step_out", "contact"} | on_the_way
    points = {name: one["point"] for name, one in found.items()}
    assert points["subject: start mark"] == "front"
    assert (points["subject"], points["contact"]) == ("reference point", "impact point")
    a, b = found["subject"], found["walker"]
    apart_m = math.dist(*((float(one["x_m"]), float(one["y_m"])) for one in (a, b)))
    grid_m = math.dist(*((float(one["easting_m"]), float(one["northing_m"])) for one in (a, b)))
    # UTM is up to 0.04 % shorter, and a hair more for the height.
    assert 0.9995 < grid_m / apart_m < 1.0
    (feature,) = json.loads(keep_out.read_text(encoding="utf-8"))["features"]
    assert feature["geometry"]["type"] == "MultiPolygon"
    assert "responsible test-safety staff decide" in feature["properties"]["caution"]
    assert feature["properties"]["margin_m"] > 0
    (lon, lat) = feature["geometry"]["coordinates"][0][0][0]
    assert (round(lon), round(lat)) == (8, 54)


def test_marks_go_to_standard_output_alone_when_asked() -> None:
    done = choreo_alone("export", GOOD, "--marks", "-")
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("name,what,x_m,y_m,heading_deg,longitude_deg")
    assert len(done.stdout.splitlines()) == 1 + 4 + 2 * len(ON_THE_WAY)


def test_json_is_one_document_with_marks_tapes_and_grid() -> None:
    document = json.loads(choreo("export", GOOD, "--json", "--grid", "25832").stdout)
    assert document["verdict"] == "feasible"
    assert [one["name"] for one in document["marks"]][:2] == ["subject", "walker"]
    assert document["grid"]["code"] == "EPSG:25832"
    assert document["anchor"]["datum"] == "EPSG:4258"
    assert document["tapes"][0]["distance_m"] > 0
    assert [leg["kind"] for leg in document["crew"]["programmes"]["subject"]["legs"]] == [
        "ramp",
        "hold",
        "stop",
    ]


@pytest.mark.parametrize("option", [["--grid", "25832"], ["--keep-out", "never-written.geojson"]])
def test_without_an_anchor_places_on_earth_are_refused(option: list[str]) -> None:
    done = choreo("export", WITHOUT_SITE, *option)
    assert done.returncode == 2
    assert option[0] in done.stderr
    assert "`anchor: {longitude: 8.5 deg" in done.stderr
    assert not (ROOT / "never-written.geojson").exists()


def test_site_without_anchor_is_named_where_one_is_needed(tmp_path: Path) -> None:
    text = (ROOT / GOOD).read_text(encoding="utf-8")
    site = (ROOT / "scenarios" / "sites" / "strip.yaml").read_text(encoding="utf-8")
    (tmp_path / "site.yaml").write_text(site.split("# Where")[0], encoding="utf-8")
    fleet = str(ROOT / "scenarios" / "fleet" / "invented.yaml")
    text = text.replace("sites/strip.yaml", "site.yaml").replace("fleet/invented.yaml", fleet)
    scenario = tmp_path / "a.yaml"
    scenario.write_text(text, encoding="utf-8")
    done = choreo("export", str(scenario), "--grid", "25832")
    assert done.returncode == 2
    assert f"{tmp_path / 'site.yaml'}:1:1: error: --grid" in done.stderr


def test_unknown_grid_is_refused_with_what_to_write() -> None:
    done = choreo("export", GOOD, "--grid", "UTM32")
    assert done.returncode == 2
    assert "EPSG:25832" in done.stderr


def test_infeasible_scenario_has_nothing_to_stake_out(tmp_path: Path) -> None:
    marks = tmp_path / "marks.csv"
    done = choreo("export", IMPOSSIBLE, "--marks", str(marks))
    assert done.returncode == 1
    assert "nothing written" in done.stderr
    assert not marks.exists()


# Every option that names a file to write.
WRITING = [
    one.opts[0]
    for one in command.params
    if isinstance(one, click.Option) and isinstance(one.type, click.Path)
]


def test_marks_and_keep_out_area_are_what_is_written() -> None:
    assert {"--marks", "--keep-out"} <= set(WRITING)


@pytest.mark.parametrize("option", WRITING)
def test_inputs_are_never_written_to(tmp_path: Path, option: str) -> None:
    text = (ROOT / GOOD).read_text(encoding="utf-8")
    text = text.replace("sites/strip.yaml", str(ROOT / "scenarios" / "sites" / "strip.yaml"))
    text = text.replace("fleet/invented.yaml", str(ROOT / "scenarios" / "fleet" / "invented.yaml"))
    scenario = tmp_path / "a.yaml"
    scenario.write_text(text, encoding="utf-8")
    done = choreo("export", str(scenario), option, str(scenario))
    assert done.returncode == 2
    assert scenario.read_text(encoding="utf-8") == text


def test_one_file_cannot_take_both() -> None:
    done = choreo("export", GOOD, "--marks", "same", "--keep-out", "same")
    assert done.returncode == 2
    assert "same file" in done.stderr


def test_two_names_of_one_file_cannot_take_both(tmp_path: Path) -> None:
    (tmp_path / "a").write_text("old", encoding="utf-8")
    (tmp_path / "b").symlink_to(tmp_path / "a")
    done = choreo("export", GOOD, "--marks", str(tmp_path / "a"), "--keep-out", str(tmp_path / "b"))
    assert done.returncode == 2
    assert (tmp_path / "a").read_text(encoding="utf-8") == "old"


def test_when_one_file_cannot_be_written_none_is(tmp_path: Path) -> None:
    marks = tmp_path / "marks.csv"
    done = choreo(
        "export", GOOD, "--marks", str(marks), "--keep-out", str(tmp_path / "no" / "zone.geojson")
    )
    assert done.returncode == 2
    assert "nothing was written" in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_missing_anchor_is_told_in_whole_sentences(tmp_path: Path) -> None:
    done = choreo("export", WITHOUT_SITE, "--grid", "25832")
    assert f"{WITHOUT_SITE}:1:1: error: --grid needs to know" in done.stderr
    assert "the scenario names no site that has an `anchor`" in " ".join(done.stderr.split())
    site = (ROOT / "scenarios" / "sites" / "strip.yaml").read_text(encoding="utf-8")
    done = choreo("export", blocked(tmp_path, site.split("# Where")[0]), "--grid", "25832")
    assert "` has no `anchor`" in " ".join(done.stderr.split())


def blocked(folder: Path, site: str = "") -> str:
    """Write the good scenario on a site of its own, with a hut beside the lane unless a site is given."""
    strip = (ROOT / "scenarios" / "sites" / "strip.yaml").read_text(encoding="utf-8")
    hut = "obstacles: {hut: {outline: [[420 m, 1 m], [425 m, 1 m], [425 m, 4 m], [420 m, 4 m]]}}\n"
    (folder / "site.yaml").write_text(site or f"{strip}\n{hut}", encoding="utf-8")
    text = (ROOT / GOOD).read_text(encoding="utf-8")
    fleet = str(ROOT / "scenarios" / "fleet" / "invented.yaml")
    text = text.replace("sites/strip.yaml", "site.yaml").replace("fleet/invented.yaml", fleet)
    (folder / "blocked.yaml").write_text(text, encoding="utf-8")
    return str(folder / "blocked.yaml")


def test_plan_that_is_not_clear_gives_its_keep_out_area_but_no_marks(tmp_path: Path) -> None:
    scenario = blocked(tmp_path)
    marks, keep_out = tmp_path / "marks.csv", tmp_path / "zone.geojson"
    done = choreo("export", scenario, "--marks", str(marks), "--keep-out", str(keep_out))
    assert done.returncode == 1
    assert done.stdout.startswith("FEASIBLE, NOT CLEAR  ")
    assert "CHECKS THAT FAILED: do not run this" in done.stdout
    assert not marks.exists()
    refused = [line for line in done.stderr.splitlines() if "--marks" in line]
    assert len(refused) == 1
    assert "not written, this run must not be made" in refused[0]
    assert "hut" in refused[0]
    assert f"saved to {marks}" not in done.stderr
    (feature,) = json.loads(keep_out.read_text(encoding="utf-8"))["features"]
    assert feature["properties"]["clear"] is False


@pytest.mark.parametrize("more", [[], ["--json"]])
def test_marks_of_a_plan_that_is_not_clear_do_not_go_to_standard_output(
    tmp_path: Path, more: list[str]
) -> None:
    target = str(tmp_path / "marks.csv") if more else "-"
    run = choreo if more else choreo_alone
    done = run("export", blocked(tmp_path), "--marks", target, *more)
    assert done.returncode == 1
    assert "this run must not be made" in done.stderr
    if more:
        document = json.loads(done.stdout)
        assert (document["clear"], document["written"]) == (False, [])
    else:
        assert done.stdout == ""
