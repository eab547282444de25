"""The bundled scenario with a sight, and the faulty one, from the file to what is told."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from choreo.case import whole_answer
from choreo.geometry import Poses, build_paths
from choreo.plans.document import from_text, to_document, to_text
from choreo.plans.record import Plan
from choreo.scenario import Scenario, load
from choreo.sight.findings import sight_findings
from choreo.sight.lines import sights_of
from tests.answers import timing_of

FOLDER = Path(__file__).parents[2] / "scenarios"


def poses_by_plan(scenario: Scenario, plan: Plan):
    """Give poses from the plan's own pieces."""
    paths = build_paths(scenario.paths)

    def station_m(name: str, t_s: float) -> float:
        mover = plan.movers[name]
        at = [piece for piece in mover.pieces if piece.start_s <= t_s]
        if not at:
            return mover.start.station_m
        u = min(t_s - at[-1].start_s, at[-1].duration_s)
        one = at[-1]
        return one.station_m + u * (
            one.speed_mps + u * (one.accel_mps2 / 2 + u * one.jerk_mps3 / 6)
        )

    def pose_of(name: str, times_s: np.ndarray) -> Poses:
        stations = np.array([station_m(name, t) for t in times_s.tolist()])
        return paths[str(scenario.movers[name].path)].pose(stations)

    return pose_of


def test_front_van_of_the_bundled_scenario_is_moved_as_its_sight_asks() -> None:
    scenario = load(FOLDER / "child-seen-late.yaml")
    plan = timing_of(scenario)
    times = {name: one.time_s for name, one in plan.encounters.items()}
    (sight,) = sights_of(scenario, poses_by_plan(scenario, plan), times)
    assert sight.within
    assert sight.stays
    assert sight.to_collision_s == pytest.approx(1.2, abs=1e-3)
    # The child runs at 8 km/h then; the car at 30 km/h is u seconds from its plane. The eye, the front left corner of
    # the van and the middle of the child's angle are on one line.
    u, v, w = 1.2, 30 / 3.6, 8 / 3.6
    eye_x = 450 - 0.2 - v * u
    corners = [(450 + a, -w * u + b) for a in (-0.2, 0.2) for b in (-0.25, 0.25)]
    angles = [np.arctan2(y, x - eye_x) for x, y in corners]
    middle = (max(angles) + min(angles)) / 2
    front_x = eye_x + -1.9 / np.tan(middle)
    assert sight.x_m + 2.8 == pytest.approx(front_x, abs=1e-3)
    assert sight_findings(scenario, (sight,)) == ()


def test_faulty_sight_is_told_at_its_place_with_its_code() -> None:
    file = FOLDER / "faulty" / "space.sight-missed.yaml"
    scenario = load(file)
    plan = timing_of(scenario)
    times = {name: one.time_s for name, one in plan.encounters.items()}
    sights = sights_of(scenario, poses_by_plan(scenario, plan), times)
    (finding,) = sight_findings(scenario, sights)
    lines = file.read_text(encoding="utf-8").splitlines()
    assert finding.code == file.stem
    assert finding.origin is not None
    assert lines[finding.origin.line - 1].endswith("# here")


def test_plan_with_a_sight_is_written_and_read_back() -> None:
    plan = whole_answer(load(FOLDER / "child-seen-late.yaml")).plan
    assert plan.verdict == "feasible"
    (sight,) = to_document(plan)["space"]["sights"]
    assert (sight["from"], sight["to"], sight["moving"]) == ("subject", "child", "front_van")
    assert from_text(to_text(plan), "plan.json") == plan


def test_names_that_are_keys_of_the_document_come_back_as_they_were() -> None:
    plan = whole_answer(load(FOLDER / "child-seen-late.yaml")).plan
    renamed = dict(zip(("from", "with"), list(plan.movers.values())[:2], strict=True))
    odd = replace(plan, movers=renamed)
    assert set(from_text(to_text(odd), "plan.json").movers) == {"from", "with"}
