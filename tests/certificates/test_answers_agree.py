"""What must agree between answers: verdicts under all that can be preferred, optima, and a plan's own marks."""

from dataclasses import replace
from pathlib import Path

import pytest

from choreo.plans.record import Plan
from choreo.scenario import Scenario, Span, load
from choreo.words.kinds import Prefer
from tests.answers import timing_of

FOLDER = Path(__file__).parents[2] / "scenarios"
WANTED: tuple[Prefer, ...] = ("shortest runway", "quickest run", "gentlest ramps")
# Optima are known to this (m, s).
SAME = 1e-4


def runway_m(plan: Plan) -> float:
    """The way of all movers together."""
    return sum(one.runway.total_m for one in plan.movers.values())


def last_s(plan: Plan) -> float:
    """When the last encounter is."""
    return max(one.time_s for one in plan.encounters.values())


def marked(scenario: Scenario, plan: Plan) -> Scenario:
    """The scenario with every start mark where a plan has it."""
    movers = {
        name: replace(one, start=replace(one.start, station=Span.at(plan.movers[name].start.station_m)))
        if one.programme
        else one
        for name, one in scenario.movers.items()
    }  # fmt: skip
    return replace(scenario, movers=movers)


@pytest.mark.parametrize("name", ["braking-lead-bumper-gap", "pass-with-margin", "walker-nearside"])
def test_no_answer_contradicts_another_of_the_same_scenario(name: str) -> None:
    scenario = load(FOLDER / f"{name}.yaml")
    plans = {one: timing_of(replace(scenario, prefer=one)) for one in WANTED}
    assert {plan.verdict for plan in plans.values()} == {"feasible"}
    assert runway_m(plans["shortest runway"]) <= min(map(runway_m, plans.values())) + SAME
    assert last_s(plans["quickest run"]) <= min(map(last_s, plans.values())) + SAME
    again = timing_of(marked(scenario, plans["shortest runway"]))
    assert again.verdict == "feasible"
    assert runway_m(again) == pytest.approx(runway_m(plans["shortest runway"]), abs=SAME)
