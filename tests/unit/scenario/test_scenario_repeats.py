"""Repeated pieces and phases are written out, their names counted, their faults told where they were written."""

from pathlib import Path

import pytest

from choreo.scenario import Event, loads
from choreo.words import ChoreoError
from tests.unit.scenario.example import WALKER

LAPS = WALKER.replace(
    "pieces: [{line: 400 m}]",
    "pieces: [{repeat: 3, pieces: [{line: 100 m, name: lap}, {line: 30 m}]}, {line: 10 m}]",
)
TWICE = """
      - repeat: 2
        phases:
          - ramp: {to: 40 km/h}
            name: up
          - hold: {until: end of subject.lap}
          - ramp: {to: 20 km/h}
      - ramp: {to: 40 km/h}
"""


def with_programme(text: str) -> str:
    first = "      - ramp: {to: 40 km/h}\n"
    assert first in text
    return text.replace(first, TWICE.removeprefix("\n"), 1)


def test_pieces_are_laid_so_often_and_names_are_counted() -> None:
    pieces = loads(LAPS, "a.yaml", Path()).paths["lane"].pieces
    assert [piece.length_m for piece in pieces] == [100, 30, 100, 30, 100, 30, 10]
    assert [piece.name for piece in pieces if piece.name] == ["lap", "lap 2", "lap 3"]


def test_phases_are_driven_so_often_each_pass_with_its_own_events() -> None:
    scenario = loads(with_programme(LAPS), "a.yaml", Path())
    programme = scenario.movers["subject"].programme
    kinds = ["ramp", "hold", "ramp"] * 2 + ["ramp", "hold", "stop"]
    assert [phase.kind for phase in programme] == kinds
    names = ["up", "hold", "ramp", "up 2", "hold 2", "ramp 2"]
    assert [phase.name for phase in programme][:6] == names
    ends = [programme[index].until for index in (1, 4)]
    laps = ("lap", "lap 2")
    assert ends == [Event("mark end", lap, "subject") for lap in laps]


def test_places_are_where_it_was_written() -> None:
    text = with_programme(LAPS)
    scenario = loads(text, "a.yaml", Path())
    line = text.splitlines().index("          - ramp: {to: 20 km/h}") + 1
    for index in (2, 5):
        place = scenario.origin("movers", "subject", "programme", index, "to")
        assert (place.line, place.column) == (line, 24)
    assert scenario.origin("movers", "subject", "programme", 6).line == line + 1


def test_event_with_its_number() -> None:
    text = LAPS.replace("until: contact}", "until: 3rd end of subject.lap}", 1)
    hold = loads(text, "a.yaml", Path()).movers["subject"].programme[1]
    assert hold.until == Event("mark end", "lap 3", "subject")
    with pytest.raises(ChoreoError) as caught:
        loads(text.replace("3rd", "4th"), "a.yaml", Path())
    assert "`lap 4`" in caught.value.findings[0].text


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("repeat: 3", "repeat: often", "`often` doesn't say how often"),
        ("repeat: 3", "repeat: 0", "`0` doesn't say how often"),
        ("repeat: 3", "repeat: 1000000", "more than 2000 entries"),
        ("repeat: 3", "repeat: 3, name: lap", "name"),
        ("{repeat: 3, pieces", "{repeat: 3, phases", "nothing to repeat"),
        ("name: lap}", "name: lap}, {line: 5 m, name: lap}", ""),
        ("{line: 10 m}", "{line: 10 m, name: lap}", "lap"),
    ],
)
def test_faults(old: str, new: str, told: str) -> None:
    assert old in LAPS
    text = LAPS.replace(old, new, 1)
    if not told:
        pieces = loads(text, "a.yaml", Path()).paths["lane"].pieces
        assert [piece.name for piece in pieces if piece.name][-1] == "lap 6"
        return
    with pytest.raises(ChoreoError) as caught:
        loads(text, "a.yaml", Path())
    assert told in " ".join(one.text for one in caught.value.findings)
    wanted = next(i for i, line in enumerate(text.splitlines(), 1) if new in line)
    assert {one.origin.line for one in caught.value.findings if one.origin} == {wanted}
