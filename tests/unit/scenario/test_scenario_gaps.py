"""Triggers by gap: what a file says of the mover that the gap is measured to."""

import math
from pathlib import Path

import pytest

from choreo.scenario import loads
from choreo.scenario.records.scenario import Span, Trigger
from choreo.words import ChoreoError, Finding
from tests.unit.scenario.example import WALKER

WHEN = "when: {time to collision: free}"


def trigger_of(when: str) -> Trigger:
    """The example's trigger with another condition."""
    return loads(WALKER.replace(WHEN, when), "a.yaml", Path()).triggers["step_out"]


def fault_of(when: str) -> Finding:
    """The one fault of the example with another condition."""
    with pytest.raises(ChoreoError) as caught:
        trigger_of(when)
    (finding,) = caught.value.findings
    assert finding.origin is not None
    assert finding.origin.line == WALKER[: WALKER.index(WHEN)].count("\n") + 1
    return finding


@pytest.mark.parametrize(
    ("written", "setting"),
    [
        ("20 m", Span(20.0, 20.0)),
        ("10..30 m", Span(10.0, 30.0)),
        ("free", Span(0.0, math.inf)),
    ],
)
def test_setting_is_a_length_from_zero_up_and_names_its_mover(written: str, setting: Span) -> None:
    trigger = trigger_of(f"when: {{gap: {written}, to: walker}}")
    assert (trigger.condition, trigger.setting, trigger.to) == ("gap", setting, "walker")


@pytest.mark.parametrize(
    ("when", "code", "told"),
    [
        ("when: {gap: 20 m}", "scenario.missing-key", "the mover that the gap is measured to"),
        ("when: {gap: 20 m, to: wlker}", "scenario.unknown-name", "mover named `wlker`"),
        ("when: {gap: 20 m, to: contact}", "scenario.unknown-name", "mover named `contact`"),
        ("when: {gap: 20 m, to: subject}", "scenario.itself", "of subject with itself"),
        ("when: {gap: 2 s, to: walker}", "scenario.bad-value", "2 s"),
        ("when: {gap: 20 m, to: walker}, to: contact", "scenario.not-together", "a `to` beside"),
        ("when: {station: 20 m, to: walker}", "scenario.not-together", "`to` in `when`"),
        ("when: {gap: 20 m, to: walker, time: 2 s}", "scenario.one-of", "2 of"),
    ],
)
def test_fault_is_told_at_its_line(when: str, code: str, told: str) -> None:
    finding = fault_of(when)
    assert finding.code == code
    assert told in finding.text


def test_gap_to_a_mover_called_as_an_encounter_is_to_the_mover() -> None:
    text = WALKER.replace("contact:", "walker:").replace("until: contact", "until: walker")
    scenario = loads(text.replace(WHEN, "when: {gap: 20 m, to: walker}"), "a.yaml", Path())
    assert scenario.triggers["step_out"].to == "walker"
    assert "walker" in scenario.encounters
