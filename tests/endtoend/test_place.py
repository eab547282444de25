"""choreo place as a user runs it: the place, the proof that there is none, the smallest rectangle."""

import json
import math
from pathlib import Path

import pytest
from shapely import Point, Polygon, box

from tests.running import ROOT, Done, choreo

WALKER = "scenarios/walker-nearside.yaml"
CROSSING = "scenarios/junction-crossing.yaml"
JUNCTION = "scenarios/sites/junction.yaml"
STRIP = "scenarios/sites/strip.yaml"
IMPOSSIBLE = "scenarios/impossible/runway-too-short-for-the-trigger.yaml"
BARE_SITE = """
choreo site: 1
title: Invented bare pad
outline: [[0 m, 0 m], [300 m, 0 m], [300 m, 80 m], [0 m, 80 m]]
"""


def place(*arguments: str) -> Done:
    """Run the command."""
    return choreo("place", *arguments)


@pytest.fixture(scope="module")
def on_junction() -> dict[str, object]:
    done = choreo("place", WALKER, "--site", JUNCTION, "--json")
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_answer_begins_with_the_verdict_and_shows_the_site() -> None:
    done = place(WALKER, "--site", JUNCTION)
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    assert lines[0].startswith("PLACED  ")
    for words in ("pose", "start marks on the site", "other places", "search", "caution"):
        assert words in lines or any(line.startswith(words) for line in lines), words
    together = " ".join(done.stdout.split())
    assert "No pose has a margin of more than" in together
    assert "responsible test-safety staff decide" in together
    assert "people and traffic on the site" in together
    drawn = done.stdout.split("a column is", 1)[1]
    for sign in (".", "+", "S", "W"):
        assert sign in drawn


@pytest.mark.parametrize("width", [40, 80])
def test_answer_and_picture_fit_the_width(width: int) -> None:
    done = place(WALKER, "--site", JUNCTION, "--width", str(width))
    assert max(len(line) for line in done.stdout.splitlines()) <= width
    assert "…" not in done.stdout


def test_picture_can_be_left_out() -> None:
    assert "a column is" not in place(WALKER, "--site", JUNCTION, "--no-picture").stdout


def test_document_has_the_promised_keys_and_numbers_that_agree(
    on_junction: dict[str, object],
) -> None:
    answer = on_junction
    assert answer["format"] == "choreo placement 1"
    assert answer["verdict"] == "found"
    assert {"best", "alternatives", "resolution", "shortfall", "not_modelled", "caution"} <= set(
        answer
    )
    best = answer["best"]
    # The site of the junction is the rectangle 440 m by 360 m round its origin.
    site, rings = box(-220, -180, 220, 180), answer["footprint_polygons_m"]
    footprint = Polygon(rings[0][0])
    assert site.covers(footprint)
    assert footprint.distance(site.boundary) == pytest.approx(best["margin_m"], abs=1e-3)
    assert best["margin_m"] <= answer["margin_bound_m"] <= best["margin_m"] + 0.2
    for mark in best["starts"].values():
        assert footprint.covers(Point(mark["x_m"], mark["y_m"]))
        assert mark["longitude_deg"] == pytest.approx(7.6, abs=0.01)
    assert all(other["margin_m"] <= best["margin_m"] for other in answer["alternatives"])


def test_start_marks_are_those_of_the_plan_moved_by_the_pose(
    on_junction: dict[str, object],
) -> None:
    planned = json.loads(choreo("plan", WALKER, "--json").stdout)["movers"]
    best = on_junction["best"]
    pose = best["pose"]
    turn = math.radians(pose["heading_deg"])
    assert set(best["starts"]) == set(planned)
    for name, mark in best["starts"].items():
        start = planned[name]["start"]
        x_m = math.cos(turn) * start["x_m"] - math.sin(turn) * start["y_m"] + pose["x_m"]
        y_m = math.sin(turn) * start["x_m"] + math.cos(turn) * start["y_m"] + pose["y_m"]
        assert (mark["x_m"], mark["y_m"]) == (pytest.approx(x_m), pytest.approx(y_m))
        turned = start["heading_deg"] + pose["heading_deg"] - mark["heading_deg"]
        assert math.remainder(turned, 360) == pytest.approx(0, abs=1e-6)


def test_own_site_is_taken_without_site_and_the_present_margin_is_told() -> None:
    answer = json.loads(place(WALKER, "--json").stdout)
    assert answer["site"] == "Invented straight strip"
    assert 0 < answer["as_written_m"] <= answer["best"]["margin_m"] + 0.01


def test_site_too_narrow_is_told_with_what_is_missing() -> None:
    done = place(CROSSING, "--site", STRIP)
    assert done.returncode == 1
    assert done.stdout.startswith("NO PLACE")
    together = " ".join(done.stdout.split())
    assert "m is missing: beyond the edge of strip" in together
    missing = json.loads(place(CROSSING, "--site", STRIP, "--json").stdout)["shortfall"]
    assert missing["short_m"] > 0
    # The strip is 1040 m by 60 m: its diagonal.
    assert missing["longest_run_m"] == pytest.approx(math.hypot(1040, 60), abs=0.01)


def test_directions_left_out_are_kept_to() -> None:
    done = place(WALKER, "--site", JUNCTION, "--not-bearing", "90 deg +/- 120 deg", "--json")
    answer = json.loads(done.stdout)
    assert answer["excluded"] == ["bearings 90 deg +/- 120 deg"]
    for spot in (answer["best"], *answer["alternatives"]):
        assert abs(math.remainder(spot["bearing_deg"] - 270, 360)) <= 60.001


def test_bearings_need_an_anchor(tmp_path: Path) -> None:
    site = tmp_path / "bare.yaml"
    site.write_text(BARE_SITE)
    done = place(WALKER, "--site", str(site), "--not-bearing", "270 deg +/- 30 deg")
    assert done.returncode == 2
    assert "has no anchor" in done.stderr
    done = place(WALKER, "--site", str(site), "--not-towards", "180 deg +/- 30 deg", "--json")
    assert done.returncode == 0
    assert json.loads(done.stdout)["best"]["bearing_deg"] is None


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--not-towards", "235 deg"), "235 deg +/- 30 deg"),
        (("--not-towards", "0 deg +/- 180 deg"), "cover the whole circle"),
        (("--margin", "2"), "has no unit"),
        (("--margin=-2 m",), "negative"),
        (("--smallest", "--site", JUNCTION), "--smallest looks at no site"),
        (("--site", "scenarios/sites/nowhere.yaml"), "nowhere.yaml"),
    ],
)
def test_bad_words_are_told_with_what_to_write(arguments: tuple[str, ...], words: str) -> None:
    done = place(WALKER, *arguments)
    assert done.returncode == 2, done.stdout
    assert words in " ".join(done.stderr.split())
    assert done.stdout == ""


def test_scenario_without_a_site_needs_one(tmp_path: Path) -> None:
    scenario = tmp_path / "a.yaml"
    site = tmp_path / "paths.yaml"
    site.write_text(
        "choreo site: 1\ntitle: Paths alone\n"
        "paths: {lane: {start: [0 m, 0 m], heading: 0 deg, pieces: [{line: 900 m}]}}\n"
    )
    text = (ROOT / WALKER).read_text().replace("fleet: ", f"fleet: {ROOT}/scenarios/")
    paths = "paths:\n  belt-from-right: {start: [450 m, -4 m], heading: 90 deg, pieces: [{line: 9 m}]}\n"
    scenario.write_text(text.replace("site: sites/strip.yaml", "site: paths.yaml") + paths)
    done = place(str(scenario))
    assert done.returncode == 2, done.stdout + done.stderr
    assert "--site FILE" in done.stderr
    assert "--smallest" in done.stderr


def test_impossible_scenario_can_not_be_placed() -> None:
    done = place(IMPOSSIBLE, "--site", JUNCTION)
    assert done.returncode == 1
    assert "choreo why" in done.stdout


def test_smallest_rectangle_grows_with_the_margin() -> None:
    bare = json.loads(place(WALKER, "--smallest", "--json").stdout)
    wide = json.loads(place(WALKER, "--smallest", "--margin", "2 m", "--json").stdout)
    assert bare["format"] == "choreo smallest rectangle 1"
    assert wide["length_m"] == pytest.approx(bare["length_m"] + 4)
    assert wide["width_m"] == pytest.approx(bare["width_m"] + 4)
    assert wide["area_m2"] == pytest.approx(wide["length_m"] * wide["width_m"])
    assert wide["long_side_deg"] == pytest.approx(0, abs=1e-6)
    told = place(WALKER, "--smallest", "--margin", "2 m").stdout
    assert f"{wide['length_m']:.2f} m by {wide['width_m']:.2f} m" in " ".join(told.split())


def test_document_is_saved_and_inputs_are_not_overwritten(tmp_path: Path) -> None:
    file = tmp_path / "placement.json"
    done = place(WALKER, "--site", JUNCTION, "--no-picture", "-o", str(file))
    assert done.returncode == 0
    assert json.loads(file.read_text())["verdict"] == "found"
    assert "placement saved to" in done.stderr
    site = tmp_path / "bare.yaml"
    site.write_text(BARE_SITE)
    done = place(WALKER, "--site", str(site), "-o", str(site))
    assert done.returncode == 2
    assert site.read_text() == BARE_SITE
