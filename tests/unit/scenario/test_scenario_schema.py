"""The JSON Schema agrees with the loader on good files and on gross faults."""

from typing import Any, get_args

import jsonschema
import pytest
import yaml
from pydantic import BaseModel

from choreo.scenario import json_schema
from choreo.scenario.written import scenario as w
from choreo.words import kinds
from tests.unit.scenario.example import EVERYTHING, GOOD_FILES, WALKER

SCHEMA = json_schema()
VALIDATOR = jsonschema.Draft202012Validator(SCHEMA)


def keys_of(model: type[BaseModel]) -> list[str]:
    return [field.alias or name for name, field in model.model_fields.items()]


def test_file_models_know_the_kinds_and_no_others() -> None:
    assert [key for key in keys_of(w.WhenWritten) if key != "to"] == list(kinds.CONDITIONS)
    assert keys_of(w.PhaseWritten) == [
        *kinds.PHASE_KINDS,
        "follow",
        "drive",
        "return",
        "name",
        "repeat",
        "phases",
    ]
    assert keys_of(w.PieceWritten) == [
        *kinds.PIECE_KINDS,
        "name",
        "at",
        "speed",
        "surface",
        "bank",
        "drive",
        "repeat",
        "pieces",
    ]
    assert set(kinds.PATH_KINDS) <= set(keys_of(w.PathWritten))
    assert set(get_args(kinds.GapMeasure)) <= set(keys_of(w.GapWritten))
    assert set(get_args(kinds.PassMeasure)) <= set(keys_of(w.PassWritten))
    assert set(get_args(kinds.ContactWay)) <= set(keys_of(w.ContactWritten))
    assert set(get_args(kinds.LimitName)) == set(keys_of(w.LimitsWritten)) - {
        "failsafe",
        "combined",
    }


def plain(text: str) -> Any:
    return yaml.load(text.replace("- stop:\n", "- stop: {}\n"), Loader=yaml.BaseLoader)


def test_schema_is_itself_valid() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    assert SCHEMA["$schema"].startswith("https://json-schema.org/draft/2020-12")


@pytest.mark.parametrize("path", GOOD_FILES, ids=lambda path: path.stem)
def test_bundled_scenario_fits_the_schema(path: Any) -> None:
    errors = [error.message for error in VALIDATOR.iter_errors(plain(path.read_text("utf-8")))]
    assert errors == []


@pytest.mark.parametrize("text", [WALKER, EVERYTHING])
def test_example_fits_the_schema(text: str) -> None:
    assert [error.message for error in VALIDATOR.iter_errors(plain(text))] == []


def test_gap_with_the_mover_that_it_is_measured_to_fits_the_schema() -> None:
    text = WALKER.replace("when: {time to collision: free}", "when: {gap: 20 m, to: walker}")
    assert text != WALKER
    assert VALIDATOR.is_valid(plain(text))


def test_number_that_an_editor_makes_of_the_version_is_accepted() -> None:
    assert VALIDATOR.is_valid(yaml.safe_load(WALKER))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("choreo: 1", "choreo: 2"),
        ("title:", "titel:"),
        ("to: 40 km/h", "to: 40"),
        ("to: 40 km/h", "to: 40 m"),
        ("brake: 6 m/s2", "brake: hard"),
        ("kind: pedestrian", "kind: robot"),
        ("kind: contact, ", ""),
        ("prefer: shortest runway", "prefer: luck"),
        ("- stop: {brake: 5 m/s2}", "- {stop: {}, hold: {}}"),
        ("when: {time to collision: free}", "when: {}"),
        ("when: {time to collision: free}", "when: {gap: 20 m}"),
        ("when: {time to collision: free}", "when: {time to collision: free, to: walker}"),
        ("start: [0 m, 0 m]", "start: [0 m]"),
        ("pieces: [{line: 400 m}]", "pieces: [{}]"),
        ("  walker:", "  2walker:"),
        ("overlap: 50 %", "overlap: 0.5"),
        ("latency: 60 ms", "latency: free"),
    ],
)
def test_gross_fault_does_not_fit_the_schema(old: str, new: str) -> None:
    assert old in WALKER
    assert not VALIDATOR.is_valid(plain(WALKER.replace(old, new, 1)))


def test_every_key_has_a_description() -> None:
    silent = [
        f"{name}.{key}"
        for name, model in {**SCHEMA["$defs"], "file": SCHEMA}.items()
        for key, entry in model["properties"].items()
        if not entry.get("description")
    ]
    assert silent == []


def test_schema_shows_examples_with_units() -> None:
    to = SCHEMA["$defs"]["RampWritten"]["properties"]["to"]
    assert any("40 km/h" in option.get("examples", ()) for option in to["anyOf"])
