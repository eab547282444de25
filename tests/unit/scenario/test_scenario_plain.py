"""Records as JSON has them: what the standard library gives, only quicker."""

import json
from dataclasses import asdict, dataclass, field, fields, is_dataclass
from pathlib import Path
from typing import Any

import pytest

from choreo.courses import Course, Sizes
from choreo.scenario import load
from choreo.scenario.records import plain_data
from choreo.scenario.records import scenario as records
from choreo.scenario.records.plain_data import as_json

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


def told(record: Any) -> Any:
    """A record as JSON has it."""
    return json.loads(json.dumps(record, default=as_json))


def test_a_later_field_is_told_only_where_it_is_used() -> None:
    assert told(Grown(1)) == {"first": 1}
    assert told(Grown(1, 2)) == {"first": 1, "second": 2}


def test_what_is_only_told_is_no_part_of_what_a_scenario_means() -> None:
    course = Course("slalom", sizes=Sizes(spacing_m=18.0))
    assert told(course) == told(Course("slalom"))


@pytest.mark.parametrize("file", SCENARIOS, ids=lambda one: one.stem)
def test_what_a_scenario_means_is_as_the_standard_library_has_it(file: Path) -> None:
    scenario = load(file)
    meaning = scenario.meaning()
    assert meaning["movers"]["subject"].limits
    wanted = {
        part: {name: asdict(one, dict_factory=used) for name, one in meaning[part].items()}
        for part in ("paths", "movers", "triggers", "encounters", "instants")
    }
    assert told({part: meaning[part] for part in wanted}) == told(wanted)
