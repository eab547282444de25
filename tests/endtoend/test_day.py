"""`choreo day` and `choreo show` of a campaign, as a user calls them."""

import csv
import json
import re
import sqlite3
from contextlib import closing
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from click.testing import CliRunner

from choreo.campaigns.reading import load_campaign
from choreo.case import whole_answer
from choreo.commands.day import command as day
from choreo.commands.show import command as show
from choreo.commands.sweep import command as sweep
from choreo.errors.asking import Asked, errors_of_plan
from choreo.scenario import load
from choreo.words import ChoreoError, Finding
from tests.places import ROOT

TEXT = f"""choreo campaign: 1
title: Two walkers and one that can't be
runs:
  near:
    scenario: {ROOT}/scenarios/walker-nearside.yaml
    vary: {{test_speed: [20 km/h, 50 km/h], walking_speed: [5 km/h, 8 km/h]}}
    without: [{{test_speed: 20 km/h, walking_speed: 8 km/h}}]
    repeats: 3
"""
DAY = """day:
  to: 08:08
  days: 2
  valid: 75 %
  return: {speed: 30 km/h, turn: 40 s}
  subject: {cool after: 3 runs, for: 5 min}
"""


SIDE = re.compile(r"  (ahead|behind|left|right) +-?[0-9]").match


def _file(folder: Path, text: str) -> Path:
    file = folder / "campaign.yaml"
    file.write_text(text)
    return file


def _cells(store: Path) -> list[tuple[str, str, int | None, str]]:
    """Name, what was asked, whether it is clear, and what would help, of every variant in a store."""
    with closing(sqlite3.connect(store)) as base:
        return list(base.execute("SELECT name, asked, clear, repair FROM variants ORDER BY name"))


@cache
def _document() -> dict[str, Any]:
    with TemporaryDirectory() as folder:
        done = CliRunner().invoke(
            day, [str(_file(Path(folder), TEXT + DAY)), "--json", "--jobs", "1"]
        )
    assert done.exit_code == 1, done.output
    found: dict[str, Any] = json.loads(done.output)
    return found


def test_what_does_not_fit_and_why_others_are_left_out() -> None:
    found = _document()
    # Six valid runs at 75 % are eight tries; 11 are enough with 95 % (by the binomial's sum).
    assert (found["needed"], found["expected_tries"], found["cautious_tries"]) == (6, 8.0, 11)
    assert len(found["timetable"]) == 8
    assert found["left_out"][0]["variant"] == "near/test_speed=50 km/h,walking_speed=8 km/h"
    assert found["stagings_at_least"] == 1
    (staging,) = found["stagings"]
    assert len(staging["variants"]) == 2
    assert found["helps"][0]["what"] == "one more subject while one cools"
    # Eight minutes a day: three runs, then one must cool; a third day is needed.
    days = [int(one["go_s"] // 86400) for one in found["timetable"]]
    assert days == sorted(days)
    assert set(days) == {0, 1, 2}
    assert sum(found["left"].values()) == days.count(2)
    assert not found["fits"]


def test_errors_of_the_scenarios_say_how_many_tries_it_takes(tmp_path: Path) -> None:
    scenario = ROOT / "scenarios" / "errors-station-trigger.yaml"
    text = "choreo campaign: 1\ntitle: Off\nruns:\n"
    text += f"  near: {{scenario: {scenario}, repeats: 3}}\n"
    done = CliRunner().invoke(day, [str(_file(tmp_path, text)), "--json", "--jobs", "1"])
    alone = whole_answer(load(scenario))
    counted = errors_of_plan(alone.scenario, alone.paths, alone.plan, Asked(2_000)).chance.ratio
    assert 0.1 < counted < 0.9
    assert json.loads(done.output)["expected_tries"] == pytest.approx(3 / counted)
    said = CliRunner().invoke(
        day, [str(_file(tmp_path, f"{text}day: {{valid: 50 %}}\n")), "--json", "--jobs", "1"]
    )
    assert json.loads(said.output)["expected_tries"] == 6.0


def test_table_csv_page_and_sheets_tell_the_same(tmp_path: Path) -> None:
    file = _file(
        tmp_path,
        TEXT.replace(", 50 km/h]", "]").replace(
            "    without: [{test_speed: 20 km/h, walking_speed: 8 km/h}]\n", ""
        ),
    )
    store = tmp_path / "store.sqlite"
    # A day on a sweep's store solves nothing again, and the room that was surveyed stays.
    CliRunner().invoke(sweep, [str(file), "-o", str(store), "--room", "--jobs", "1"])
    surveyed = _cells(store)
    assert 1 in [clear for _, _, clear, _ in surveyed]
    text = CliRunner().invoke(day, [str(file), "-o", str(store)])
    assert _cells(store) == surveyed
    assert "NO RUNS" not in text.output
    (walker,) = [line for line in text.output.splitlines() if line.startswith("  walker ")]
    assert "belt-from-right" in walker
    # The walker comes from the right of the lane, which is the site's x axis: what it takes there is below zero.
    sides = {
        line.split()[0]: float(line.split()[1]) for line in text.output.splitlines() if SIDE(line)
    }
    assert sides["right"] < 0.0 < sides["left"]
    assert 0.0 < sides["behind"] < sides["ahead"]
    rows = list(
        csv.DictReader(
            CliRunner().invoke(day, [str(file), "-o", str(store), "--csv"]).output.splitlines()
        )
    )
    assert [row["try"] for row in rows] == ["1", "2", "3"] * (len(rows) // 3)
    assert rows[0]["go"] == "08:00:00"
    assert rows[0]["variant"] in text.output
    for options, name in (([], "page.html"), (["--sheet"], "sheets.html")):
        done = CliRunner().invoke(
            show, [str(file), *options, "--store", str(store), "-o", str(tmp_path / name)]
        )
        assert _cells(store) == surveyed
        assert done.exit_code == text.exit_code, done.output
        # Names may break between their values there.
        assert rows[0]["variant"] in re.sub(
            r"</?(?:span|wbr)[^>]*>", "", (tmp_path / name).read_text()
        )


def _faults(folder: Path, block: str) -> list[Finding]:
    with pytest.raises(ChoreoError) as caught:
        load_campaign(_file(folder, TEXT + block))
    return list(caught.value.findings)


@pytest.mark.parametrize(
    ("block", "line", "words"),
    [
        ("day: {from: 8}", 1, "`8` is no time of the day"),
        ("day: {to: 07:00}", 1, "ends before it begins"),
        ("day:\n  pauses: [12:45..12:00]", 2, "ends before it begins"),
        ("day:\n  pauses: [12:00..12:45, 12:30..13:00]", 2, "pauses > no. 2: the pause is not"),
        ("day:\n  restages: 6 min", 2, "no such key"),
        ("day:\n  valid: 0 %", 2, "more than 0 %"),
        ("day:\n  walkers: {battery: 6 km, swap: 5 min}", 2, "walkers"),
        ("day:\n  walker: {battery: 6 km}", 2, "`swap` is missing"),
        ("day:\n  walker: {swap: 6 min}", 2, "without `battery`"),
        ("day:\n  walker: {batery: 6 km}", 2, "batery"),
        ("day:\n  subject: {cool after: 5, for: 5 min}", 2, "no number of runs"),
        ("day:\n  first: nearer", 2, "named `nearer`"),
        ("day:\n  days: 0", 2, "no number of days"),
        ("day:\n  return: 30 km/h", 2, "block of keys"),
        ("day:\n  between runs: 10 min..90 s", 2, "10 min..90 s"),
    ],
)
def test_faults_of_the_block_are_told_at_their_place(
    block: str, line: int, words: str, tmp_path: Path
) -> None:
    (fault,) = _faults(tmp_path, block)
    assert words in fault.text
    assert fault.origin is not None
    assert fault.origin.line == TEXT.count("\n") + line
    assert fault.advice
