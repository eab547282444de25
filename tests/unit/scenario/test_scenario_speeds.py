"""Rates that would do nothing, and triggers whose speed is never passed."""

from pathlib import Path

import pytest

from choreo.scenario import loads
from choreo.words import ChoreoError, Finding
from tests.unit.scenario.example import WALKER

RAMP = "- ramp: {to: 40 km/h}"
WHEN = "when: {time to collision: free}"


def found_in(*changes: tuple[str, str]) -> list[Finding]:
    text = WALKER
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    try:
        return [one for one in loads(text, "a.yaml", Path()).notes if one.severity != "note"]
    except ChoreoError as error:
        return list(error.findings)


ROLLING = ("station: free}", "station: free, speed: 60 km/h}")
WRONG = [
    [(RAMP, "- ramp: {to: 40 km/h, brake: 2 m/s2}")],
    [(RAMP, "- ramp: {to: 40 km/h, accelerate: 2 m/s2, brake: 2 m/s2}")],
    [(RAMP, "- ramp: {to: 40 km/h, accelerate: 2 m/s2}"), ROLLING],
    [(RAMP, f"{RAMP}\n      - ramp: {{to: 30 km/h, accelerate: 1 m/s2}}")],
]
RIGHT = [
    [(RAMP, "- ramp: {to: 40 km/h, accelerate: 2 m/s2}")],
    [(RAMP, "- ramp: {to: 40 km/h, brake: 2 m/s2}"), ROLLING],
    [(RAMP, f"{RAMP}\n      - ramp: {{to: 30..50 km/h, accelerate: 1 m/s2, brake: 1 m/s2}}")],
]


@pytest.mark.parametrize("changes", WRONG)
def test_rate_of_the_other_direction_is_a_fault(changes: list[tuple[str, str]]) -> None:
    (finding,) = found_in(*changes)
    assert finding.code == "scenario.wrong-rate"
    assert finding.origin is not None
    assert finding.origin.line in (16, 17)


@pytest.mark.parametrize("changes", RIGHT)
def test_rate_of_its_direction_or_of_an_open_ramp_is_fine(changes: list[tuple[str, str]]) -> None:
    assert found_in(*changes) == []


SPEEDS = [
    ("50 km/h", "scenario.speed-not-passed", "never goes faster than 40 km/h"),
    ("50..60 km/h", "scenario.speed-not-passed", "never goes faster than 40 km/h"),
    ("0 km/h", "scenario.speed-not-passed", "while it stands"),
    ("40 km/h", "scenario.speed-at-end", "may never pass it"),
]


@pytest.mark.parametrize(("speed", "code", "told"), SPEEDS)
def test_speed_that_the_programme_does_not_pass_is_told(speed: str, code: str, told: str) -> None:
    (finding,) = found_in((WHEN, f"when: {{speed: {speed}}}"))
    assert finding.code == code
    assert told in finding.text
    assert finding.severity == ("warning" if code.endswith("end") else "error")


@pytest.mark.parametrize("speed", ["39 km/h", "10..60 km/h", "free"])
def test_speed_on_the_way_is_fine(speed: str) -> None:
    assert found_in((WHEN, f"when: {{speed: {speed}}}")) == []


def test_rolling_mover_passes_lower_speeds_when_it_slows_but_not_its_own() -> None:
    slow = (RAMP, "- ramp: {to: 30 km/h}")
    assert found_in(ROLLING, slow, (WHEN, "when: {speed: 40 km/h}")) == []
    (finding,) = found_in(ROLLING, slow, (WHEN, "when: {speed: 60 km/h}"))
    assert "starts with it" in finding.text
