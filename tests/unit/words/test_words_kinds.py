"""The tables of kinds are complete, and their units are the ones that quantities are read to."""

from typing import Any, get_args

import pytest

from choreo.words import kinds
from choreo.words.quantities import parse
from choreo.words.units import KINDS, UNITS, QuantityKind

TABLES = [
    (kinds.Condition, kinds.CONDITIONS),
    (kinds.Measure, kinds.MEASURES),
    (kinds.PhaseKind, kinds.PHASES),
    (kinds.ErrorKind, kinds.ERRORS),
    (QuantityKind, KINDS),
]


@pytest.mark.parametrize(("kind", "table"), TABLES)
def test_table_has_every_member_of_its_kind_and_no_other(kind: Any, table: Any) -> None:
    assert tuple(table) == get_args(kind)


def test_measures_of_encounters_are_all_measures() -> None:
    of_encounters = {
        *get_args(kinds.ContactMeasure),
        *get_args(kinds.GapMeasure),
        *get_args(kinds.PassMeasure),
    }
    assert of_encounters == set(get_args(kinds.Measure))


@pytest.mark.parametrize("unit", get_args(kinds.Unit))
def test_unit_of_the_numbers_inside_is_what_quantities_are_read_to(unit: str) -> None:
    assert parse(f"3 {unit}", UNITS[unit].kind) == 3.0


def test_what_counts_down_to_an_encounter_does_so_while_the_speed_is_held() -> None:
    counting = [facts for facts in kinds.CONDITIONS.values() if facts.to_encounter]
    assert [facts.settled for facts in counting] == [True, True]


def test_what_changes_speed_moves() -> None:
    changing = [kind for kind, facts in kinds.PHASES.items() if facts.changes_speed]
    assert changing == ["ramp", "stop"]
    assert [kind for kind, facts in kinds.PHASES.items() if not facts.moves] == ["wait"]
