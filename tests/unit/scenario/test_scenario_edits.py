"""Neighbours of a scenario: one part is another one, everything else is the same."""

from dataclasses import fields, replace
from pathlib import Path
from typing import get_args

import pytest

from choreo.scenario import Gap, Scenario, Span, load
from choreo.scenario.records import edits
from choreo.scenario.records.scenario import Limits
from choreo.words.kinds import LimitName
from tests.unit.scenario.example import write_everything


@pytest.fixture
def scenario(tmp_path: Path) -> Scenario:
    return load(write_everything(tmp_path))


def changed_parts(one: Scenario, other: Scenario) -> list[str]:
    return [f.name for f in fields(one) if getattr(one, f.name) != getattr(other, f.name)]


@pytest.mark.parametrize("limit", get_args(LimitName))
def test_limit_is_set_and_no_other(scenario: Scenario, limit: LimitName) -> None:
    near = edits.with_limit(scenario, "subject", limit, 0.125)
    before, after = scenario.movers["subject"].limits, near.movers["subject"].limits
    changed = [f.name for f in fields(Limits) if getattr(before, f.name) != getattr(after, f.name)]
    assert [name.split("_")[0] for name in changed] == [limit]
    value = getattr(after, changed[0])
    assert value in (0.125, ((0.0, 0.125),))
    assert changed_parts(scenario, near) == ["movers"]
    others = set(scenario.movers) - {"subject"}
    assert others == {name for name in near.movers if near.movers[name] is scenario.movers[name]}


def test_phase_is_exchanged_at_its_place(scenario: Scenario) -> None:
    old = scenario.movers["subject"].programme
    near = edits.with_phase(scenario, "subject", 1, replace(old[1], settle_s=9.5))
    new = near.movers["subject"].programme
    assert (new[0], new[2:]) == (old[0], old[2:])
    assert new[1] == replace(old[1], settle_s=9.5)


def test_every_trigger_is_changed_by_its_name(scenario: Scenario) -> None:
    (trigger,) = scenario.triggers.values()
    scenario = edits.with_trigger(scenario, "second", trigger)
    late = {name: 0.25 * number for number, name in enumerate(scenario.triggers, 1)}
    near = edits.with_each_trigger(
        scenario, lambda name, trigger: replace(trigger, latency_s=late[name])
    )
    assert {name: trigger.latency_s for name, trigger in near.triggers.items()} == late
    assert changed_parts(scenario, near) == ["triggers"]


def test_one_trigger_path_or_encounter_is_exchanged(scenario: Scenario) -> None:
    name, trigger = next(iter(scenario.triggers.items()))
    near = edits.with_trigger(scenario, name, replace(trigger, setting=Span.at(7.5)))
    assert near.triggers == {**scenario.triggers, name: replace(trigger, setting=Span.at(7.5))}
    name, path = next(iter(scenario.paths.items()))
    near = edits.with_path(scenario, name, replace(path, heading_rad=1.25))
    assert near.paths[name].heading_rad == 1.25
    assert changed_parts(scenario, near) == ["paths"]
    gap = next(name for name, one in scenario.encounters.items() if isinstance(one, Gap))
    wanted = replace(scenario.encounters[gap], wanted=Span.at(7.5))
    near = edits.with_encounter(scenario, gap, wanted)
    assert near.encounters[gap].wanted == Span.at(7.5)
    assert changed_parts(scenario, near) == ["encounters"]
