"""A neighbour, of which only what another value touches is read anew, is what its text read whole is."""

import re
from dataclasses import fields
from pathlib import Path

import pytest

from choreo.scenario import Scenario, loads
from choreo.scenario.sources import source_of
from choreo.words import ChoreoError, Finding

SCENARIOS = Path(__file__).parents[3] / "scenarios"
# Values that are put in place of others, most of them faults of some kind.
OTHERS = ("12 km/h", "150 km/h", "free", "3 m", "7 s", "x")
# Two cars follow a van: what is written of one is made of another's.
FOLLOWING = "following-platoon", {"to: 70 km/h": "to: $speed", "gap: 1.5 s, s": "gap: $gap, s"}
PLAIN = ("cut-out-reveals-stationary", "surveyed-road-walker", "lead-brakes-at-a-gap")


def told(scenario: Scenario) -> dict[str, object]:
    return {one.name: getattr(scenario, one.name) for one in fields(scenario)}


def whole(text: str, file: Path) -> dict[str, object] | tuple[Finding, ...]:
    try:
        return told(loads(text, str(file), file.parent))
    except ChoreoError as error:
        return tuple(error.findings)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder for scenario files, with what they name."""
    for name in ("sites", "fleet", "paths"):
        (tmp_path / name).symlink_to(SCENARIOS / name)
    return tmp_path


@pytest.mark.parametrize("name", [*PLAIN, FOLLOWING[0]])
def test_a_neighbour_is_as_its_text_read_whole(name: str, folder: Path) -> None:
    text = (SCENARIOS / f"{name}.yaml").read_text(encoding="utf-8")
    if name == FOLLOWING[0]:
        for old, new in FOLLOWING[1].items():
            text = text.replace(old, new)
        text = text.replace("movers:", "values:\n  speed: 70 km/h\n  gap: 1.5 s\nmovers:", 1)
    file = folder / "scenario.yaml"
    file.write_text(text, encoding="utf-8")
    source = source_of(file)
    values = source.values
    source.scenario({next(iter(values)): values[next(iter(values))].replace("0", "2")})
    other, sound = [], 0
    for value, written in values.items():
        for instead in (*OTHERS, written.replace("0", "3"), written.replace("5", "6"), written):
            edited = re.sub(rf"(?m)^(  {value}: ){re.escape(written)}", rf"\g<1>{instead}", text)
            try:
                found: dict[str, object] | tuple[Finding, ...]
                found = told(source.scenario({value: instead}))
                sound += 1
            except ChoreoError as error:
                found = tuple(error.findings)
            if found != whole(edited, file):
                other.append((value, instead))
    assert other == []
    assert sound > 2
