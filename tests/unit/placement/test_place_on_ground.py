"""Places on ground that is not everywhere alike: the worst first, then what is left without it."""

import math
from dataclasses import replace
from pathlib import Path

import pytest

from choreo.case import whole_answer
from choreo.fit.rigid import Rigid
from choreo.ground import Ground, build_ground
from choreo.placement.footprint import Options
from choreo.placement.on_ground import place_on_ground
from choreo.placement.record import Placement
from choreo.scenario import Scenario, load_site, loads, moved_to
from tests.answers import timing_of
from tests.unit.room.surveyed_runs import area, scenario_text, site_text

SLOW = "[{ramp: {to: 36 km/h}}, {hold: {for: 3 s}}, {stop: {}}]"
HARD = "[{ramp: {to: 36 km/h}}, {hold: {for: 3 s}}, {stop: {brake: 5 m/s2}}]"


def made(folder: Path, areas: str, programme: str = SLOW) -> tuple[Scenario, Ground]:
    """A car that speeds up, holds and stops, and a ground of its own."""
    (folder / "pad.yaml").write_text(site_text(areas), encoding="utf-8")
    text = scenario_text(programme=programme).replace("site: site.yaml\n", "")
    scenario = loads(text, str(folder / "scenario.yaml"), folder)
    return scenario, build_ground(load_site(folder / "pad.yaml"))


def placed(folder: Path, areas: str, programme: str = SLOW, least_m: float = 0.0) -> Placement:
    """Its place on that ground."""
    scenario, ground = made(folder, areas, programme)
    return place_on_ground(scenario, ground, Options(least_m))


def test_slippery_ground_takes_more_room(tmp_path: Path) -> None:
    dry = placed(tmp_path, area("pad", 0, 0, 150, 40, ", friction: 0.9"))
    wet = placed(tmp_path, area("pad", 0, 0, 150, 40, ", friction: 0.35"))
    assert dry.best is not None
    assert wet.best is not None
    assert dry.verdict == wet.verdict == "found"
    # Both are as wide; the wet one is longer, and its ends come nearer to the edge only when that binds.
    tight = placed(tmp_path, area("pad", 0, 0, 80, 40, ", friction: 0.9"))
    slippery = placed(tmp_path, area("pad", 0, 0, 80, 40, ", friction: 0.35"))
    assert tight.best is not None
    assert slippery.best is None or slippery.best.margin_m < tight.best.margin_m - 1.0


def test_place_on_mixed_ground_is_planned_as_it_lies(tmp_path: Path) -> None:
    two = "\n".join(
        (
            area("dry", 0, 0, 200, 40, ", friction: 0.9"),
            area("wet", 0, 40, 200, 80, ", friction: 0.5"),
        )
    )
    told = placed(tmp_path, two)
    assert told.verdict == "found"
    # Another place may have more: no bound is claimed.
    assert told.margin_bound_m is None
    assert any("ground that lies there" in one for one in told.warnings)


def test_place_off_the_worst_ground_is_planned_on_the_rest(tmp_path: Path) -> None:
    # On ice nobody brakes with 5 m/s2: there is room on the dry part alone.
    two = "\n".join(
        (
            area("dry", 0, 0, 200, 60, ", friction: 0.9"),
            area("ice", 0, 60, 200, 120, ", friction: 0.1"),
        )
    )
    scenario, ground = made(tmp_path, two, HARD)
    told = place_on_ground(scenario, ground)
    assert told.verdict == "found"
    assert told.best is not None
    assert told.best.area == "dry"
    # Kept off the ice, the plan is the one of dry ground.
    pose = Rigid(told.best.pose.x_m, told.best.pose.y_m, math.radians(told.best.pose.heading_deg))
    mark = timing_of(moved_to(scenario, pose.x_m, pose.y_m, pose.angle_rad)).movers["subject"].start
    assert told.best.starts["subject"].x_m == pytest.approx(mark.x_m, abs=1e-6)
    assert told.best.starts["subject"].y_m == pytest.approx(mark.y_m, abs=1e-6)
    assert {told.best.area, *(one.area for one in told.alternatives)} == {"dry"}


def test_ground_on_which_only_the_best_would_do_is_left_undecided(tmp_path: Path) -> None:
    # The dry strip is too narrow for the car and its margin beside the ice.
    two = "\n".join(
        (
            area("dry", 0, 0, 200, 2, ", friction: 0.9"),
            area("ice", 0, 2, 200, 60, ", friction: 0.1"),
        )
    )
    told = placed(tmp_path, two, HARD)
    assert told.verdict == "undecided"
    assert told.best is None


def test_ground_that_is_too_small_is_proven_so_only_where_it_is_alike(tmp_path: Path) -> None:
    two = "\n".join(
        (
            area("dry", 0, 0, 30, 30, ", friction: 0.9"),
            area("wet", 30, 0, 40, 30, ", friction: 0.3"),
        )
    )
    told = placed(tmp_path, two)
    assert told.verdict == "undecided"
    assert told.shortfall is not None
    assert told.shortfall.short_m > 0.0
    assert placed(tmp_path, area("dry", 0, 0, 30, 30, ", friction: 0.9")).verdict == "none"


def test_told_margin_is_that_of_the_plan_made_there(tmp_path: Path) -> None:
    # Up and down a slope the plan differs, and with it what is swept.
    slope = area("hill", 0, 0, 200, 40, ", friction: 0.9, slope: {grade: 6 %, uphill: 0 deg}")
    scenario, ground = made(tmp_path, slope, HARD)
    told = place_on_ground(scenario, ground)
    assert told.best is not None
    pose = Rigid(told.best.pose.x_m, told.best.pose.y_m, math.radians(told.best.pose.heading_deg))
    lying = replace(
        moved_to(scenario, pose.x_m, pose.y_m, pose.angle_rad),
        site=load_site(tmp_path / "pad.yaml"),
    )
    space = whole_answer(lying).plan.space
    assert space is not None
    assert space.site is not None
    assert space.clear
    assert space.site.margin_m == pytest.approx(told.best.margin_m, abs=1e-3)


def test_failed_check_that_moves_along_is_told(tmp_path: Path) -> None:
    bend = "[{line: 60 m}, {arc: {radius: 30 m, angle: 90 deg}}, {line: 60 m}]"
    lane = f"lane: {{start: [0 m, 0 m], heading: 0 deg, pieces: {bend}}}"
    van = "  van: {stand: {at: [74 m, 0 m], heading: 0 deg}, body: {length: 5 m, width: 2 m}}\n"
    text = scenario_text(van, paths=lane).replace("site: site.yaml\n", "")
    (tmp_path / "pad.yaml").write_text(site_text(area("pad", 0, 0, 400, 400)), encoding="utf-8")
    scenario = loads(text, str(tmp_path / "scenario.yaml"), tmp_path)
    told = place_on_ground(scenario, build_ground(load_site(tmp_path / "pad.yaml")))
    assert told.verdict == "found"
    assert any("may touch van" in one for one in told.failures)


@pytest.mark.parametrize("angle_deg", [0.0, 33.0, -120.0])
def test_moved_scenario_has_the_same_plan_elsewhere(tmp_path: Path, angle_deg: float) -> None:
    van = "  van: {stand: {at: [80 m, 5 m], heading: 10 deg}, body: {length: 5 m, width: 2 m}}\n"
    text = scenario_text(van).replace("site: site.yaml\n", "")
    scenario = loads(text, str(tmp_path / "scenario.yaml"), tmp_path)
    pose = Rigid(100.0, -50.0, math.radians(angle_deg))
    here, there = (
        timing_of(scenario),
        timing_of(moved_to(scenario, pose.x_m, pose.y_m, pose.angle_rad)),
    )
    assert set(here.movers) == {"subject", "van"}
    for name, one in here.movers.items():
        other = there.movers[name]
        assert (other.start.x_m, other.start.y_m) == pytest.approx(
            pose.point(one.start.x_m, one.start.y_m), abs=1e-6
        )
        assert [p.duration_s for p in other.pieces] == pytest.approx(
            [p.duration_s for p in one.pieces], abs=1e-6
        )
