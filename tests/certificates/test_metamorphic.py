"""The same scenario moved, turned, mirrored, renamed, reordered has the same plan; a looser one is never impossible."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from choreo.plans.record import Plan
from choreo.scenario import loads
from tests.answers import timing_of
from tests.harness.changed import (
    NAMES,
    longer,
    mirrored,
    moved,
    renamed,
    reordered,
    told,
    wider,
    with_a_stranger,
)
from tests.harness.everyday import everyday

SEEDS = range(0, 44, 4)
SAME = {
    "moved and turned": lambda text: told(text, moved),
    "mirrored": lambda text: told(text, mirrored),
    "reordered": lambda text: told(text, reordered),
    "renamed": renamed,
    "with a stranger": lambda text: told(text, with_a_stranger),
}
LOOSER = {"longer": lambda text: told(text, longer), "wider": lambda text: told(text, wider)}
# Places are written with twelve decimals, and turned ones add up along kilometres.
NEAR = 1e-6


def planned(text: str) -> Plan:
    return timing_of(loads(text, "changed.yaml", Path()))


def numbers(plan: Plan, *, new: bool = False) -> Iterator[tuple[str, float]]:
    """What a crew sets: marks, launches, settings, and when all meets. new: movers by their other names."""
    for name, mover in plan.movers.items():
        if name != "stranger":
            yield f"{name if new else NAMES[name]} start", mover.start.station_m
            yield f"{name if new else NAMES[name]} launch", mover.launch_s
    for name, trigger in plan.triggers.items():
        yield f"{name} setting", trigger.setting
    for number, encounter in enumerate(sorted(one.time_s for one in plan.encounters.values())):
        yield f"encounter {number}", encounter


@pytest.fixture(scope="module")
def usual() -> dict[int, Plan]:
    return {seed: planned(everyday(seed).text) for seed in SEEDS}


@pytest.mark.parametrize("way", SAME)
def test_the_same_scenario_has_the_same_plan(way: str, usual: dict[int, Plan]) -> None:
    found = {seed: planned(SAME[way](everyday(seed).text)) for seed in SEEDS}
    assert [one.verdict for one in found.values()] == [one.verdict for one in usual.values()]
    other = {}
    for seed, plan in usual.items():
        new = dict(numbers(found[seed], new=way == "renamed"))
        old = dict(numbers(plan))
        apart = {name: (old[name], new[name]) for name in old if abs(old[name] - new[name]) > NEAR}
        if apart:
            other[seed] = apart
    assert other == {}


@pytest.mark.parametrize("way", LOOSER)
def test_a_looser_scenario_is_not_impossible(way: str, usual: dict[int, Plan]) -> None:
    feasible = [seed for seed, plan in usual.items() if plan.verdict == "feasible"]
    assert feasible
    verdicts = {seed: planned(LOOSER[way](everyday(seed).text)).verdict for seed in feasible}
    assert set(verdicts.values()) == {"feasible"}, verdicts
