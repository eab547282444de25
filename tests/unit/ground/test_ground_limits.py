"""What friction and slope leave of the limits, and what that does to plans and proofs."""

import math
from pathlib import Path

import pytest

from choreo.case import case_of
from choreo.ground.limits import limits_on
from choreo.ground.surface import GRAVITY_MPS2, Surface
from choreo.scenario import Limits
from choreo.words import ChoreoError
from tests.unit.room.surveyed_runs import area, made, run, scenario_text, site_text

DRY = area("dry", -20, -20, 320, 20, ", friction: 0.9")


def test_level_ground_with_enough_grip_leaves_everything(tmp_path: Path) -> None:
    scenario = made(tmp_path, scenario_text(), site_text(DRY))
    case = case_of(scenario)
    assert case.scenario is scenario
    assert not case.on_site.lowered


def test_grip_bounds_braking_and_the_plan_keeps_to_it(tmp_path: Path) -> None:
    whole = run(tmp_path, scenario_text(), site_text(DRY.replace("0.9", "0.4")))
    assert whole.plan.verdict == "feasible"
    most = 0.4 * GRAVITY_MPS2
    assert whole.plan.movers["subject"].peak.brake_mps2 == pytest.approx(most, rel=1e-6)
    assert whole.plan.space is not None
    assert whole.plan.space.stops["subject"].brake_mps2 == pytest.approx(most)
    assert "space.surface" in {one.code for one in whole.plan.warnings}
    assert whole.plan.space.surfaces["subject"].friction == 0.4


def test_slope_takes_its_part_of_the_weight_in_the_direction_of_travel(tmp_path: Path) -> None:
    falls = DRY.replace("friction: 0.9", "slope: {grade: 2 %, uphill: 180 deg}")
    limits = (
        case_of(made(tmp_path, scenario_text(), site_text(falls))).scenario.movers["subject"].limits
    )
    pull = GRAVITY_MPS2 * math.sin(math.atan(0.02))
    assert limits.brake_mps2 == pytest.approx(6.0 - pull)
    # Falling ground helps to speed up; the limit of the file is not raised for it.
    assert limits.accelerate[0][1] == pytest.approx(3.0)


def test_slope_across_the_path_takes_nothing_along_it(tmp_path: Path) -> None:
    across = DRY.replace("friction: 0.9", "slope: {grade: 2 %, uphill: 90 deg}")
    limits = (
        case_of(made(tmp_path, scenario_text(), site_text(across)))
        .scenario.movers["subject"]
        .limits
    )
    assert limits.brake_mps2 == pytest.approx(6.0, abs=1e-9)


def test_worst_of_the_areas_near_the_path_counts_all_along_it(tmp_path: Path) -> None:
    areas = "\n".join(
        (
            area("dry", -20, -20, 150, 20, ", friction: 0.9"),
            area("wet", 150, -20, 320, 20, ", friction: 0.3"),
            area("aside", -20, 60, 320, 80, ", friction: 0.1"),
        )
    )
    case = case_of(made(tmp_path, scenario_text(), site_text(areas)))
    assert case.on_site.surfaces["subject"].friction == 0.3
    assert not case.on_site.alike


def test_table_rows_are_lowered_one_by_one() -> None:
    scenario_limits = _limits(((0.0, 5.0), (10.0, 2.0)))
    limits, taken = limits_on(scenario_limits, Surface(0.3))
    assert limits.accelerate == ((0.0, pytest.approx(0.3 * GRAVITY_MPS2)), (10.0, 2.0))
    assert set(taken) == {"acceleration", "braking", "lateral acceleration"}


def _limits(table: tuple[tuple[float, float], ...]) -> Limits:
    return Limits(40.0, table, 6.0)


SHORT = "[{ramp: {to: 90 km/h}}, {hold: {for: 1 s}}, {stop: {}}]"


def test_proof_on_one_surface_all_along_stands(tmp_path: Path) -> None:
    # 90 km/h from 10 m on, in 290 m of path: 104 m to speed up, 25 m of hold, and 159 m to stop with 0.2 g.
    slippery = DRY.replace("0.9", "0.2")
    whole = run(tmp_path, scenario_text(programme=SHORT), site_text(slippery))
    assert whole.plan.verdict == "infeasible"
    assert whole.plan.budgets


def test_proof_that_leans_on_the_worst_of_several_surfaces_is_none(tmp_path: Path) -> None:
    areas = "\n".join(
        (
            area("dry", -20, -20, 280, 20, ", friction: 0.9"),
            area("ice", 280, -20, 400, 20, ", friction: 0.2"),
        )
    )
    whole = run(tmp_path, scenario_text(programme=SHORT), site_text(areas))
    assert whole.plan.verdict == "undecided"
    assert "space.surface-decides" in {one.code for one in whole.plan.warnings}


def test_ground_that_lets_nobody_brake_is_a_fault(tmp_path: Path) -> None:
    steep = DRY.replace("friction: 0.9", "friction: 0.1, slope: {grade: 15 %, uphill: 180 deg}")
    with pytest.raises(ChoreoError) as caught:
        case_of(made(tmp_path, scenario_text(), site_text(steep)))
    assert {one.code for one in caught.value.findings} == {"space.too-slippery"}
