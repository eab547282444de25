"""Conditions are printed, and change nothing."""

from pathlib import Path

import pytest

from choreo.plans.fingerprint import fingerprint_of
from choreo.report.content import content_of
from choreo.scenario import loads
from choreo.words import ChoreoError
from tests.answers import timing_of
from tests.unit.scenario.example import WALKER

STATED = WALKER.replace(
    "paths:\n", "conditions: {light: 20 lux, road surface: dry, cost: $5}\n\npaths:\n", 1
)


def test_conditions_are_told_behind_the_summary_and_are_no_part_of_the_meaning() -> None:
    stated, plain = (loads(text, "a.yaml", Path()) for text in (STATED, WALKER))
    assert dict(stated.conditions) == {"light": "20 lux", "road surface": "dry", "cost": "$5"}
    assert fingerprint_of(stated.meaning()) == fingerprint_of(plain.meaning())
    plan = timing_of(plain)
    told = " Conditions: light 20 lux, road surface dry, cost $5."
    assert content_of(stated, plan).summary == content_of(plain, plan).summary + told


@pytest.mark.parametrize(
    ("new", "told"),
    [
        ("light: {at noon: 20 lux}", "a single value is wanted"),
        ("light: [20 lux, 30 lux]", "a single value is wanted"),
        (r'light: "20\e[1m lux"', "the control character U+001B"),
        (r'"li\e[1mght": 20 lux', "the control character U+001B"),
        ("light:", "can't be printed"),
        (f"light: {'bright ' * 20}", "can't be printed"),
    ],
)
def test_faults(new: str, told: str) -> None:
    text = STATED.replace("{light: 20 lux, road surface: dry, cost: $5}", f"\n  {new}", 1)
    assert text != STATED
    with pytest.raises(ChoreoError) as caught:
        loads(text, "a.yaml", Path())
    (finding,) = caught.value.findings
    assert told in finding.text
    assert "\x1b" not in finding.text
    line = next(i for i, one in enumerate(text.splitlines(), 1) if new in one)
    assert finding.origin is not None
    assert finding.origin.line == line
