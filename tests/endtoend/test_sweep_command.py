"""`choreo sweep` as a user runs it: table, map, documents, codes of exit, refusals before anything is solved."""

import csv
import io
import json
import shutil
from pathlib import Path

import pytest

from tests.running import choreo

SCENARIOS = Path(__file__).parents[2] / "scenarios"
CAMPAIGN = """\
choreo campaign: 1
title: Crossing and standing
runs:
  near:
    scenario: walker-nearside.yaml
    vary: {test_speed: [20 km/h, 40 km/h], walking_speed: [5 km/h, 4 km/h]}
  stopped:
    scenario: stationary-target.yaml
    together: {test_speed: [40 km/h, 125 km/h], subject acceleration: [3 m/s2, 1 m/s2]}
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a campaign, its scenarios, and the store that a sweep left."""
    folder = tmp_path_factory.mktemp("campaign")
    shutil.copytree(SCENARIOS, folder, dirs_exist_ok=True)
    (folder / "week.yaml").write_text(CAMPAIGN, encoding="utf-8")
    done = choreo("sweep", "week.yaml", "-o", "week.sqlite", folder=folder)
    assert done.returncode == 1, done.stderr
    return folder


def test_table_and_map_tell_every_variant_and_why_one_is_impossible(folder: Path) -> None:
    done = choreo("sweep", "week.yaml", "-o", "week.sqlite", "--map", folder=folder)
    assert done.returncode == 1
    lines = done.stdout.splitlines()
    assert lines[0] == "Crossing and standing: 6 variants, 5 feasible, 1 infeasible"
    impossible = next(line for line in lines if "125 km/h" in line)
    assert "infeasible" in impossible
    assert "short by" in done.stdout
    assert [line for line in lines if line.strip().startswith("20 km/h  ") and "#" in line] == [
        "     20 km/h       #       #"
    ]
    assert "--room" in done.stdout


def test_documents_have_a_row_a_variant(folder: Path) -> None:
    done = choreo("sweep", "week.yaml", "-o", "week.sqlite", "--csv", folder=folder)
    rows = list(csv.DictReader(io.StringIO(done.stdout)))
    assert [row["verdict"] for row in rows] == ["feasible"] * 5 + ["infeasible"]
    assert rows[0]["name"] == "near/test_speed=20 km/h,walking_speed=5 km/h"
    assert rows[0]["walking_speed"] == "5 km/h"
    document = json.loads(
        choreo("sweep", "week.yaml", "-o", "week.sqlite", "--json", folder=folder).stdout
    )
    assert document["format"] == "choreo sweep 1"
    assert len(document["variants"]) == 6
    runway = document["variants"][0]["figures"]["runway"]
    assert runway["unit"] == "m"
    assert float(rows[0]["runway_m"]) == runway["value"]


def test_room_and_repairs_are_told_where_they_are_asked_for(folder: Path) -> None:
    text = CAMPAIGN.replace("[20 km/h, 40 km/h]", "[20 km/h]").replace(
        "[5 km/h, 4 km/h]", "[5 km/h]"
    )
    (folder / "few.yaml").write_text(text.replace("40 km/h, 125", "30 km/h, 125"), encoding="utf-8")
    done = choreo("sweep", "few.yaml", "--room", "--repairs", "--json", folder=folder)
    near, stopped, impossible = json.loads(done.stdout)["variants"]
    assert near["clear"] is True
    assert stopped["clear"] is True
    assert impossible["verdict"] == "infeasible"
    assert "subject" in impossible["repair"]


@pytest.mark.parametrize(
    ("old", "new", "options", "words"),
    [
        ("[20 km/h, 40 km/h]", "[20 km/h, 40 m]", [], "week2.yaml:6:"),
        (
            "[20 km/h, 40 km/h], walking_speed: [5 km/h, 4 km/h]",
            "20..60 km/h by 0.1 km/h, walking_speed: 4..8 km/h by 0.01 km/h",
            [],
            "160,803 variants",
        ),
        (", walking_speed: [5 km/h, 4 km/h]", "", ["--map"], "no run varies two names"),
        ("test_speed: [20 km/h", "test_speed: [20 km/h", ["-o", "week2.yaml"], "week2.yaml"),
        ("walking_speed: [", "overlap: [", ["-o", "new.sqlite"], "a key of its `values:`"),
    ],
)
def test_refusals_come_before_anything_is_solved(
    folder: Path, old: str, new: str, options: list[str], words: str
) -> None:
    assert CAMPAIGN.count(old) == 1
    (folder / "week2.yaml").write_text(CAMPAIGN.replace(old, new), encoding="utf-8")
    done = choreo("sweep", "week2.yaml", *options, folder=folder)
    assert done.returncode == 2
    assert done.stdout == ""
    assert words in done.stderr
    assert "in the store" not in done.stderr  # there is none


def test_a_figure_that_isnt_there_is_told_with_the_nearest_one(folder: Path) -> None:
    done = choreo("sweep", "week.yaml", "-o", "week.sqlite", "--map", "runways", folder=folder)
    assert done.returncode == 2
    assert "Did you mean `runway`?" in done.stderr


def test_a_scenario_that_varies_nothing_is_one_variant(folder: Path) -> None:
    done = choreo("sweep", "slower-lead.yaml", "--jobs", "1", folder=folder)
    assert done.returncode == 0
    assert "1 variant, all feasible" in done.stdout
