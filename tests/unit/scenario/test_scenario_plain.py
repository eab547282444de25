"""Records as plain data: what the standard library gives, only quicker."""

from dataclasses import asdict
from pathlib import Path

import pytest

from choreo.scenario import load
from choreo.scenario.records.plain_data import plain

SCENARIOS = sorted((Path(__file__).parents[3] / "scenarios").glob("*.yaml"))


@pytest.mark.parametrize("file", SCENARIOS, ids=lambda one: one.stem)
def test_plain_data_of_a_scenario_is_that_of_the_standard_library(file: Path) -> None:
    scenario = load(file)
    assert plain(scenario.movers["subject"]) == asdict(scenario.movers["subject"])
    assert plain(scenario) == asdict(scenario)


def test_plain_data_keeps_order_and_kinds_of_collections() -> None:
    path = load(SCENARIOS[0]).paths["lane"]
    told, wanted = plain(path), asdict(path)
    assert list(told) == list(wanted)
    assert type(told["pieces"]) is type(wanted["pieces"]) is tuple
    assert told["pieces"]
    assert type(told["pieces"][0]) is dict
