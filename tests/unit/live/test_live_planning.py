"""What sliders show is what the file would give; what is written is that and nothing else."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest

from choreo.live.planning import Overtaken, Planner
from tests.answers import FOLDER

SPEED = "walking_speed: 5 km/h"


@pytest.fixture
def file(tmp_path: Path) -> Path:
    for folder in ("sites", "fleet"):
        (tmp_path / folder).symlink_to(FOLDER / folder)
    shutil.copy(FOLDER / "walker-nearside.yaml", tmp_path)
    return tmp_path / "walker-nearside.yaml"


def _planner(file: Path, *asked: str) -> Planner:
    return Planner(file, asked, lambda: False)


def _put(file: Path, old: str, new: str) -> None:
    text = file.read_text()
    assert text.count(old) == 1
    file.write_text(text.replace(old, new))


def _data(told: dict[str, Any]) -> Any:
    return told["picture"]["data"]


def test_what_if_is_what_the_written_file_gives(file: Path) -> None:
    """By quantities and by a named value that is used once, one after the other and together; comments stay."""
    early: list[dict[str, Any]] = []
    asked = ("walker speed", "test_speed=30..50 km/h")
    planner = Planner(file, asked, lambda: False, early.append)
    first = planner.saved()
    assert first["verdict"] == "feasible"
    assert [one["name"] for one in first["picked"]] == ["walker speed", "test_speed"]
    assert "Run sheet" in first["picture"]["sheet"]
    assert early == []
    slow = planner.what_if({"walker speed": 4.6})
    (glimpse,) = early
    # Motion and marks are known before the room; nothing that the room decides is told yet.
    early_told = glimpse["first"]
    assert early_told["shown"] == {"walker speed": 4.6}
    assert [name for name, *_ in early_told["figures"]] == ["encounter", "closing", "trigger"]
    known = _data(slow)
    assert early_told["data"]["space"] is None
    assert early_told["data"]["encounters"] == known["encounters"]
    assert early_told["data"]["triggers"] == known["triggers"]
    pieces = [[one["pieces"] for one in data["movers"]] for data in (early_told["data"], known)]
    assert pieces[0] == pieces[1]
    shown = {"walker speed": 4.8, "test_speed": 38.0, "step_out latency": 0.08}
    tried = planner.what_if(shown)
    assert tried["verdict"] == "feasible"
    assert tried["picture"]["sheet"] == "", "no sheet of what nobody can look up"
    before = file.read_text().splitlines()
    assert planner.write(shown) == {"written": ["walker speed", "test_speed", "step_out latency"]}
    after = file.read_text().splitlines()
    changed = [(old, new) for old, new in zip(before, after, strict=True) if old != new]
    assert changed == [
        ("  test_speed: 40 km/h", "  test_speed: 38 km/h"),
        ("  walking_speed: 5 km/h", "  walking_speed: 4.8 km/h"),
        (before[36], before[36].replace("60 ms", "80 ms")),
    ]
    assert _data(_planner(file).saved()) == _data(tried)
    assert _data(planner.saved()) == _data(tried)
    assert _data(first) != _data(tried)


def test_impossible_values_are_answered_and_helped(file: Path) -> None:
    planner = _planner(file)
    planner.saved()
    tried = planner.what_if({"walker speed": 9.0})
    assert (tried["verdict"], tried["faults"]) == ("infeasible", [])
    helped = planner.helped()
    assert helped is not None
    assert "What would make it work" in helped["picture"]["screen"]
    assert planner.helped() is None


def test_nothing_is_written_into_a_file_that_has_changed(file: Path) -> None:
    planner = _planner(file)
    planner.saved()
    _put(file, SPEED, "walking_speed: 5 km/h # slow")
    text = file.read_text()
    (fault,) = planner.write({"walker speed": 4.6})["not_written"]
    assert "the file has changed since it was planned" in fault["text"]
    assert file.read_text() == text
    planner.saved()
    assert planner.write({"walker speed": 4.6}) == {"written": ["walker speed"]}
    assert file.read_text() == text.replace("5 km/h # slow", "4.6 km/h # slow")


def test_faults_have_line_and_remedy_and_what_is_missing_is_watched(file: Path) -> None:
    planner = _planner(file)
    _put(file, SPEED, "walking_speed: 5 kmh")
    _put(file, "site: sites/strip.yaml", "site: sites/none.yaml")
    told = planner.saved()
    assert "picture" not in told
    remedies = {one["place"]: one["advice"] for one in told["faults"]}
    assert remedies["walker-nearside.yaml, line 16"] == "Write a quantity, like `5 km/h`."
    assert "walker-nearside.yaml, line 11" in remedies
    assert str(file.parent / "sites/none.yaml") in told["files"]
    file.unlink()
    assert "there is no file" in planner.saved()["faults"][0]["text"]


def test_something_newer_breaks_off_what_is_planned(file: Path) -> None:
    planner = Planner(file, (), lambda: True)
    with pytest.raises(Overtaken):
        planner.saved()


def test_sliders_are_picked_by_vary_and_by_name_and_refused_with_the_nearest_name(
    file: Path,
) -> None:
    with file.open("a") as stream:
        stream.write("\nvary: {test_speed: 30..50 km/h by 10 km/h}\n")
    told = _planner(file, "walker sped", "subject speed=9..3 km/h").saved()
    assert told["verdict"] == "feasible"
    (slider,) = told["picked"]
    low, high = (slider["value"] + slider[end] * slider["step"] for end in ("least", "most"))
    assert (slider["name"], slider["unit"], low, high) == ("test_speed", "km/h", 30.0, 50.0)
    wrong, turned = told["refused"]
    assert wrong["advice"] == "Did you mean `walker speed`?"
    assert "9..3 km/h" in turned["text"]
