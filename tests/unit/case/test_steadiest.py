"""The plan that spreads least: against the same scenario with its open speed given, value by value."""

import math
from pathlib import Path

import pytest

from choreo.case import answer, case_of
from choreo.case.extreme import preferred_answer
from choreo.case.rates import unwritten
from choreo.errors.first_order import first_order
from choreo.errors.sources import sources_of
from choreo.errors.stage import stage_of
from choreo.scenario import load
from choreo.scenario.records.edits import with_speed
from tests.answers import FOLDER, whole

NAME = "errors-smallest"
KMH = 1 / 3.6


def spread_at(speed_mps: float) -> tuple[float, float]:
    """The spread of the impact point and the runway, in m, with the subject's speed given."""
    scenario = with_speed(load(FOLDER / f"{NAME}.yaml"), "subject", 0, speed_mps)
    found = answer(case_of(scenario))
    assert found.feasible
    stage = stage_of(found.case.scenario, found.case.paths, found.plan)
    slopes = first_order(stage, sources_of(found.case.scenario))
    runway_m = sum(one.runway.total_m for one in found.plan.movers.values())
    return slopes.encounters["contact"].spread, runway_m


def test_no_given_speed_spreads_less_and_the_gain_and_the_cost_are_as_told() -> None:
    found = whole(NAME)
    told = found.plan.steadiest
    assert found.feasible
    assert told is not None
    chosen = {one.name: one.value for one in told.least.chosen}
    at_best, runway_m = spread_at(chosen["subject speed"])
    assert at_best == pytest.approx(told.least.spread, rel=1e-3)
    assert runway_m == pytest.approx(told.least.runway_m, rel=1e-3)
    grid = [spread_at(kmh * KMH)[0] for kmh in (30, 40, 50, 60)]
    assert told.least.spread < 1.01 * min(grid)
    # The shortest runway is at the slowest of them, and clearly worse: else this test could not fail.
    assert told.shortest.spread == pytest.approx(grid[0], rel=1e-3)
    assert told.shortest.spread > 1.05 * told.least.spread
    assert told.shortest.runway_m < told.least.runway_m


def test_rates_that_nobody_wrote_are_moved_too_and_plans_have_them() -> None:
    found = whole(NAME)
    every = {one.name: one for one in unwritten(found.case.scenario, found.plan)}
    # The stops come after the encounter; the walker's ramp has its way, and both holds end with the encounter.
    assert list(every) == ["subject ramp accelerate"]
    rate = every["subject ramp accelerate"]
    limit = max(value for _, value in found.case.scenario.movers["subject"].limits.accelerate)
    assert (rate.span.lo, rate.span.hi) == pytest.approx((0.2 * limit, limit))
    gentle = answer(case_of(rate.put(load(FOLDER / f"{NAME}.yaml"), limit / 2)))
    assert gentle.feasible
    assert rate.chosen(gentle.plan) == pytest.approx(limit / 2, rel=1e-6)


def test_between_both_ends_less_spread_always_costs_runway() -> None:
    told = whole(NAME).plan.steadiest
    assert told is not None
    every = told.frontier
    assert every[0] == told.shortest
    assert every[-1] == told.least
    assert len(every) > 2
    runways, ratios = [one.runway_m for one in every], [one.ratio for one in every]
    assert runways == sorted(set(runways))
    assert ratios == sorted(set(ratios), reverse=True)


def test_what_does_not_spread_is_planned_with_the_shortest_runway(tmp_path: Path) -> None:
    text = """
choreo: 1
title: alone
prefer: smallest error
paths:
  lane: {start: [0 m, 0 m], heading: 0 deg, pieces: [{line: 400 m}]}
movers:
  subject:
    path: lane
    body: {length: 4.30 m, width: 1.80 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    programme:
      - ramp: {to: 40 km/h}
      - stop: {}
"""
    file = tmp_path / "alone.yaml"
    file.write_text(text, encoding="utf-8")
    plan = preferred_answer(case_of(load(file))).plan
    assert plan.verdict == "feasible"
    assert plan.steadiest is None
    # Speed squared over twice each rate: both without build-up.
    way_m = (40 * KMH) ** 2 / 2 * (1 / 3 + 1 / 6)
    assert math.isclose(plan.movers["subject"].runway.total_m, way_m, rel_tol=1e-6)
