"""Saved plans that come from elsewhere: refused in words, and nothing in them reaches a terminal."""

import json
import math
from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest

from choreo.export.files import load_plan
from choreo.plans.document import from_text, to_text
from choreo.plans.record import Conflict
from choreo.scenario import load
from choreo.words import ChoreoError, Finding
from tests.answers import timing_of
from tests.unit.scenario.example import SCENARIOS

ESCAPE = "\x1b]0;title\x07"


@lru_cache
def plan_text() -> str:
    return to_text(timing_of(load(SCENARIOS / "stationary-target.yaml")))


def fault_of(text: str) -> Finding:
    with pytest.raises(ChoreoError) as caught:
        from_text(text, "plan.json")
    (finding,) = caught.value.findings
    return finding


def named(document: dict[str, Any]) -> None:
    document["movers"][ESCAPE] = document["movers"].pop("subject")


def fingerprinted(document: dict[str, Any]) -> None:
    document["fingerprint"] = ESCAPE


def keyed(document: dict[str, Any]) -> None:
    document["movers"] = {ESCAPE: {}}


@pytest.mark.parametrize("change", [named, fingerprinted, keyed])
def test_plan_with_control_characters_is_refused_without_printing_them(
    change: Callable[[dict[str, Any]], None],
) -> None:
    document = json.loads(plan_text())
    change(document)
    finding = fault_of(json.dumps(document))
    assert finding.code == "plan.broken"
    assert "`<1b>]0;title<7>` holds a control character" in finding.text


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("[" * 900 + "]" * 900, "format"),
        ('{"format": "choreo plan 1", "movers": ' + "[" * 900 + "]" * 900 + "}", "too deeply"),
        ("[" * 100_000, "not JSON"),
        ("", "not JSON"),
    ],
)
def test_absurd_plan_is_refused_in_words(text: str, why: str) -> None:
    assert why in fault_of(text).text


@pytest.mark.parametrize(
    ("make", "code"),
    [
        (Path.mkdir, "input.folder"),
        (lambda path: path.symlink_to("/dev/zero"), "input.unreadable"),
        (lambda path: path.write_bytes(b"\xff\xfe"), "input.not-text"),
        (lambda _: None, "input.missing-file"),
    ],
)
def test_only_plain_files_are_read_as_plans(
    make: Callable[[Path], None], code: str, tmp_path: Path
) -> None:
    make(tmp_path / "plan.json")
    with pytest.raises(ChoreoError) as caught:
        load_plan(tmp_path / "plan.json")
    assert [one.code for one in caught.value.findings] == [code]


def test_the_document_in_one_line_says_what_the_indented_one_says() -> None:
    plan = timing_of(load(SCENARIOS / "stationary-target.yaml"))
    open_end = replace(plan, conflicts=(Conflict("gap", math.inf, "m", None),))
    for one in (plan, open_end):
        assert json.loads(to_text(one, indent=None)) == json.loads(to_text(one))
    assert json.loads(to_text(open_end, indent=None))["conflicts"][0]["amount"] is None
