"""Records as plain data: what the standard library gives, only quicker."""

from dataclasses import asdict, dataclass, field, fields, is_dataclass
from pathlib import Path
from typing import Any

import pytest

from choreo.courses import Course, Sizes
from choreo.scenario import load
from choreo.scenario.records import plain_data
from choreo.scenario.records import scenario as records
from choreo.scenario.records.plain_data import plain

SCENARIOS = sorted((Path(__file__).parents[3] / "scenarios").glob("*.yaml"))

# Fields of records that came later, with their defaults: left out of what does not use them.
LATER = [
    (one.name, one.default)
    for record in (*vars(records).values(), Course)
    if is_dataclass(record)
    for one in fields(record)
    if "later" in one.metadata
]
# Those that are only told.
TOLD = {one.name for one in fields(Course) if "told" in one.metadata}


@dataclass(frozen=True, slots=True)
class Grown:
    """A record that got a field later."""

    first: int
    second: int = field(default=0, metadata=plain_data.LATER)


def used(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Fields by name, without later ones at their default and those that are only told."""
    return {name: value for name, value in pairs if (name, value) not in LATER and name not in TOLD}


def test_a_later_field_is_told_only_where_it_is_used() -> None:
    assert plain(Grown(1)) == {"first": 1}
    assert plain(Grown(1, 2)) == {"first": 1, "second": 2}


def test_what_is_only_told_is_no_part_of_what_a_scenario_means() -> None:
    course = Course("slalom", sizes=Sizes(spacing_m=18.0))
    assert plain(course) == plain(Course("slalom"))


@pytest.mark.parametrize("file", SCENARIOS, ids=lambda one: one.stem)
def test_plain_data_of_a_scenario_is_that_of_the_standard_library(file: Path) -> None:
    scenario = load(file)
    assert plain(scenario.movers["subject"]) == asdict(
        scenario.movers["subject"], dict_factory=used
    )
    assert plain(scenario) == asdict(scenario, dict_factory=used)


def test_plain_data_keeps_order_and_kinds_of_collections() -> None:
    path = load(SCENARIOS[0].with_name("walker-nearside.yaml")).paths["lane"]
    told, wanted = plain(path), asdict(path, dict_factory=used)
    assert list(told) == list(wanted)
    assert type(told["pieces"]) is type(wanted["pieces"]) is tuple
    assert told["pieces"]
    assert type(told["pieces"][0]) is dict
