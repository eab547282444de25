"""Sight lines in scenario files: what is read, and what is told about what can't be."""

from pathlib import Path

import pytest

from choreo.plans.fingerprint import fingerprint_of
from choreo.scenario import Scenario, Sight, loads
from choreo.words import ChoreoError, Finding
from tests.unit.scenario.example import WALKER

VAN = """\
  van: {kind: obstacle, stand: {at: [305 m, -3 m]}, body: {length: 5 m, width: 2 m}}
  hut: {kind: obstacle, stand: {at: [290 m, -3 m]}, body: {length: 5 m, width: 2 m}}
"""
PLAIN = WALKER.replace("\ntriggers:", VAN + "\ntriggers:")


def with_sight(**keys: str) -> Scenario:
    return loads(text_with(**keys), "a.yaml", Path())


def text_with(**keys: str) -> str:
    lines = "".join(f"    {key.replace('_', ' ')}: {value}\n" for key, value in keys.items())
    return f"{PLAIN}sights:\n  seen:\n{lines}"


def faults_of(**keys: str) -> list[Finding]:
    with pytest.raises(ChoreoError) as caught:
        with_sight(**keys)
    return list(caught.value.findings)


def test_sight_has_defaults_for_all_but_what_is_looked_at() -> None:
    assert with_sight(to="walker").sights == {"seen": Sight("subject", "walker", 0.5)}


def test_sight_with_everything_is_read_in_si() -> None:
    sight = with_sight(
        **{"from": "subject"},
        to="walker",
        share="30 %",
        sensor="[1.2 m, -20 cm]",
        first_seen_at="2.0 s to collision +/- 0.2 s",
        moving="van",
        within="10 m",
    ).sights["seen"]
    assert sight == Sight("subject", "walker", 0.3, (1.2, -0.2), 2.0, 0.2, "van", 10.0)


@pytest.mark.parametrize(
    ("text", "wanted_s", "tolerance_s"),
    [
        ("2.0 s to collision", 2.0, 0.1),
        ("1500 ms to collision +/- 50 ms", 1.5, 0.05),
        ("2 s to collision ± 0.1 s", 2.0, 0.1),
        ("2 s  to  collision +/-0.1 s", 2.0, 0.1),
    ],
)
def test_time_to_collision_is_read(text: str, wanted_s: float, tolerance_s: float) -> None:
    sight = with_sight(to="walker", first_seen_at=text).sights["seen"]
    assert (sight.wanted_s, sight.tolerance_s) == (wanted_s, tolerance_s)


ONE_FAULT = [
    ({"to": "wolker"}, "scenario.unknown-name", "walker"),
    ({"to": "walker", "from": "subjekt"}, "scenario.unknown-name", "subject"),
    ({"to": "subject"}, "scenario.itself", "two movers"),
    ({"share": "50 %"}, "scenario.missing-key", "to"),
    ({"to": "walker", "share": "0 %"}, "scenario.bad-value", "above 0 %"),
    ({"to": "walker", "share": "101 %"}, "scenario.bad-value", "up to 100 %"),
    ({"to": "walker", "share": "0.5"}, "scenario.bad-value", "50 %"),
    ({"to": "walker", "sensor": "3 m"}, "scenario.bad-shape", "guide format"),
    (
        {"to": "walker", "first seen at": "2 s"},
        "scenario.bad-value",
        "2.0 s to collision +/- 0.1 s",
    ),
    (
        {"to": "walker", "first seen at": "2 to collision"},
        "scenario.bad-value",
        "2.0 s to collision",
    ),
    ({"to": "walker", "first seen at": "2 m to collision"}, "scenario.bad-value", "2.0 s to"),
    ({"to": "walker", "first seen at": "0 s to collision"}, "scenario.bad-value", "2.0 s to"),
    (
        {"to": "walker", "first seen at": "1 s to collision +/- 0 s"},
        "scenario.bad-value",
        "2.0 s to",
    ),
    ({"to": "walker", "first seen at": "[2 s]"}, "scenario.bad-value", "not a list"),
    ({"to": "van", "first seen at": "2 s to collision"}, "scenario.bad-value", "Add their contact"),
    ({"to": "walker", "moving": "van"}, "scenario.missing-key", "first seen at"),
    ({"to": "walker", "within": "5 m"}, "scenario.missing-key", "moving"),
    ({"to": "walker", "colour": "red"}, "scenario.unknown-key", ""),
]
MOVING_FAULT = [
    ("vam", "scenario.unknown-name", "van"),
    ("walker", "scenario.bad-value", "what hides the other"),
]


@pytest.mark.parametrize(("keys", "code", "told"), ONE_FAULT)
def test_fault_of_a_sight_is_told_with_what_to_write(
    keys: dict[str, str], code: str, told: str
) -> None:
    (finding,) = faults_of(**keys)
    assert finding.code == code
    assert told in finding.advice
    assert finding.origin is not None
    assert finding.origin.line > len(PLAIN.splitlines())


@pytest.mark.parametrize(("moving", "code", "told"), MOVING_FAULT)
def test_only_what_stands_can_be_moved(moving: str, code: str, told: str) -> None:
    (finding,) = faults_of(to="walker", first_seen_at="2 s to collision", moving=moving)
    assert finding.code == code
    assert told in finding.advice


def test_mover_on_a_path_is_not_moved() -> None:
    parked = """\
  parked: {path: lane, start: {station: 100 m}, body: {length: 5 m, width: 2 m}}
"""
    text = text_with(to="walker", first_seen_at="2 s to collision", moving="parked")
    with pytest.raises(ChoreoError) as caught:
        loads(text.replace("\ntriggers:", parked + "\ntriggers:"), "a.yaml", Path())
    (finding,) = caught.value.findings
    assert "parked follows a path" in finding.text


def test_mover_that_is_met_is_not_moved() -> None:
    text = text_with(to="walker", first_seen_at="2 s to collision", moving="van").replace(
        "\nencounters:\n",
        "\nencounters:\n  near: {kind: gap, of: subject, with: van, distance: 2 m, at: contact}\n",
    )
    text = text.replace("latency: 60 ms", "latency: 60 ms, to: contact")
    with pytest.raises(ChoreoError) as caught:
        loads(text, "a.yaml", Path())
    (finding,) = caught.value.findings
    assert "van is met by encounter `near`" in finding.text


def test_two_sights_do_not_move_the_same_thing() -> None:
    text = text_with(to="walker", first_seen_at="2 s to collision", moving="van")
    again = "  other: {to: walker, first seen at: 1 s to collision, moving: van}\n"
    with pytest.raises(ChoreoError) as caught:
        loads(text + again, "a.yaml", Path())
    (finding,) = caught.value.findings
    assert "sight `seen` moves van already" in finding.text
    assert len(loads(text + again.replace("van", "hut"), "a.yaml", Path()).sights) == 2


def test_faulty_encounter_is_not_told_as_missing_by_a_sight() -> None:
    text = text_with(to="walker", first_seen_at="2 s to collision")
    with pytest.raises(ChoreoError) as caught:
        loads(text.replace("overlap: 50 %", "overlap: 50"), "a.yaml", Path())
    assert [finding.code for finding in caught.value.findings] == ["scenario.bad-value"]


def test_sights_change_the_fingerprint_and_none_do_not() -> None:
    plain = loads(PLAIN, "a.yaml", Path())
    assert "sights" not in plain.meaning()
    seen, other = with_sight(to="walker"), with_sight(to="walker", share="40 %")
    prints = {fingerprint_of(one.meaning()) for one in (plain, seen, other)}
    assert len(prints) == 3
