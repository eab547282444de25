"""Sights of a run: told, demanded, solved by moving a van; what there is to tell about them."""

from dataclasses import replace

import numpy as np
import pytest

from choreo.plans.room_record import SightPlan
from choreo.sight.findings import sight_findings
from choreo.sight.lines import sights_of, with_sights
from choreo.sight.scene import with_moved
from choreo.words import Finding
from tests.unit.sight.sight_runs import CONTACT_S, FILE, TIMES, pose_of, scenario

ROW = np.array([[60.0, -4.0], [97.0, -4.0], [97.0, -2.0], [60.0, -2.0]])


def sight_of(obstacles: tuple[np.ndarray, ...] = (), **changes: object) -> SightPlan:
    (plan,) = sights_of(scenario(**changes), pose_of, TIMES, obstacles)
    return plan


def findings_of(obstacles: tuple[np.ndarray, ...] = (), **changes: object) -> list[Finding]:
    whole = scenario(**changes)
    return list(sight_findings(whole, sights_of(whole, pose_of, TIMES, obstacles)))


def cleared_s(corner: tuple[float, float], sensor_ahead_m: float = 0.0) -> float:
    """Time left when the whole child has cleared a corner: eye, corner and a low corner of it on one line.

    With u s left the eye is at x = 99.8 + ahead - 10 u, the child's low side at y = -2 u - 0.25.
    """
    cx, cy = corner
    found = []
    for px in (99.8, 100.2):
        eye = 99.8 + sensor_ahead_m
        # (cx - eye + 10 u) (2 u + 0.25) + cy (px - eye + 10 u) = 0
        roots = np.roots(
            [20.0, 2 * (cx - eye) + 2.5 + 10 * cy, 0.25 * (cx - eye) + cy * (px - eye)]
        )
        found.append(max(roots.real))
    return min(found)


def test_first_sight_is_told_after_go_and_before_the_contact() -> None:
    plan = sight_of((ROW,), share=1.0)
    assert plan.to_collision_s == pytest.approx(cleared_s((97.8, -2.0)), abs=1e-5)
    assert plan.first_s + plan.to_collision_s == pytest.approx(CONTACT_S, abs=1e-9)
    assert plan.stays
    assert (plan.wanted_s, plan.within, plan.move_m) == (None, None, None)
    assert findings_of((ROW,), share=1.0) == []


def test_sensor_further_back_sees_a_hidden_body_at_another_time() -> None:
    plan = sight_of((ROW,), share=1.0, sensor_m=(1.0, 0.0))
    assert plan.to_collision_s == pytest.approx(cleared_s((97.8, -2.0), -2.0), abs=1e-5)


def test_site_obstacle_hides_like_a_mover() -> None:
    without = replace(scenario(share=1.0), movers=dict(scenario().movers))
    del without.movers["van"]
    (free,) = sights_of(without, pose_of, TIMES)
    assert free.first_s == 0.0
    (hidden,) = sights_of(without, pose_of, TIMES, (ROW,))
    assert hidden.to_collision_s == pytest.approx(cleared_s((97.0, -2.0)), abs=1e-5)


def test_van_is_moved_until_the_wanted_time_comes_out() -> None:
    plan = sight_of((ROW - [8, 0],), wanted_s=1.2, tolerance_s=0.1, moving="van", within_m=5.0)
    assert plan.within
    assert plan.to_collision_s == pytest.approx(1.2, abs=1e-3)
    assert plan.move_m is not None
    assert (plan.x_m, plan.y_m) == pytest.approx((95 + plan.move_m, -3.0))


def test_moved_van_gives_the_wanted_time_when_the_scenario_is_looked_at_anew() -> None:
    asked = scenario(wanted_s=1.2, tolerance_s=0.1, moving="van", within_m=5.0)
    obstacles = (ROW - [8, 0],)
    moved = with_sights(asked, sights_of(asked, pose_of, TIMES, obstacles))
    told = replace(moved, sights={"child_seen": scenario().sights["child_seen"]})
    (plan,) = sights_of(told, pose_of, TIMES, obstacles)
    assert plan.to_collision_s == pytest.approx(1.2, abs=1e-3)
    assert moved.movers["van"].stand != asked.movers["van"].stand
    assert moved.movers["subject"] == asked.movers["subject"]
    # Solved again from there, it stays where it is.
    (again,) = sights_of(moved, pose_of, TIMES, obstacles)
    assert again.move_m == pytest.approx(0.0, abs=1e-5)


def test_van_does_not_move_into_anything() -> None:
    # The wall 0.2 m behind the van leaves it no way back.
    wall = np.array([[91.0, -4.0], [92.0, -4.0], [92.0, -2.0], [91.0, -2.0]])
    (finding,) = findings_of(
        (ROW - [8, 0], wall), wanted_s=1.5, tolerance_s=0.01, moving="van", within_m=5.0
    )
    assert finding.code == "space.sight-missed"
    assert "No free place of van up to 5 m" in finding.advice


def test_moving_goes_along_the_heading() -> None:
    whole = scenario()
    turned = {**whole.movers, "van": replace(whole.movers["van"], stand=(1.0, 2.0, np.pi / 2))}
    moved = with_moved(replace(whole, movers=turned), "van", 3.0)
    assert moved.movers["van"].stand == pytest.approx((1.0, 5.0, np.pi / 2))


def test_wanted_time_that_is_missed_is_an_error_that_says_where_the_van_belongs() -> None:
    obstacles = (ROW - [8, 0],)
    plan = sight_of(obstacles, wanted_s=1.35, tolerance_s=0.05)
    assert plan.within is False
    name, move_m = plan.helps
    assert name == "van"
    (finding,) = findings_of(obstacles, wanted_s=1.35, tolerance_s=0.05)
    assert (finding.code, finding.severity) == ("space.sight-missed", "error")
    assert f"first seen {plan.to_collision_s:.3f} s before the contact" in finding.text
    assert "1.35 s +/- 0.05 s" in finding.text
    assert f"at: [{95 + move_m:.3f} m, -3.000 m]" in finding.advice
    there = with_moved(scenario(wanted_s=1.35, tolerance_s=0.05), name, round(move_m, 3))
    (mended,) = sights_of(there, pose_of, TIMES, obstacles)
    assert mended.within


def test_a_target_that_is_seen_too_early_beside_what_hides_it_says_when() -> None:
    obstacles = (ROW - [8, 0],)
    wanted = {"wanted_s": 1.35, "tolerance_s": 0.05}
    missed = replace(sight_of(obstacles, **wanted), episodes=((0.0, 7.14), (15.2, 16.3)))
    (finding, *_) = sight_findings(scenario(**wanted), [missed])
    assert finding.code == "space.sight-missed"
    assert "seen from 0.00 to 7.14 s already" in finding.advice


def test_wanted_time_is_met_up_to_its_tolerance() -> None:
    found_s = sight_of((ROW,)).to_collision_s
    for off_s, within in ((0.05, True), (-0.05, True), (0.0501, False), (-0.0501, False)):
        plan = sight_of((ROW,), wanted_s=found_s + off_s, tolerance_s=0.05)
        assert plan.within is within, off_s


def unseen(**changes: object) -> list[Finding]:
    """Findings of a run that is looked at only as long as a wall across the lane hides all."""
    whole = scenario(**changes)
    wall = np.array([[99.0, -20.0], [99.1, -20.0], [99.1, 20.0], [99.0, 20.0]])
    return list(sight_findings(whole, sights_of(whole, pose_of, {"contact": 2.0}, (wall,))))


def test_body_that_is_never_seen_is_warned_of() -> None:
    (finding,) = unseen()
    assert (finding.code, finding.severity) == ("space.sight-never", "warning")
    assert "subject never sees 50 % of child" in finding.text


def test_wanted_body_that_is_never_seen_is_one_error() -> None:
    (finding,) = unseen(wanted_s=1.0, tolerance_s=0.1)
    assert finding.code == "space.sight-missed"
    assert "never seen from subject" in finding.text
    assert finding.advice.startswith("No standing mover gives this")


def test_body_seen_and_hidden_again_is_warned_of() -> None:
    # Behind the tail of the van the child is seen at go; then the van hides it.
    (finding,) = findings_of()
    assert (finding.code, finding.severity) == ("space.sight-glimpse", "warning")
    assert sight_of().first_s == 0.0
    assert len(sight_of().episodes) == 2
    assert finding.origin is not None
    assert "child_seen" in FILE.splitlines()[finding.origin.line - 1]


def test_sight_without_encounter_is_looked_at_to_the_end_of_the_run() -> None:
    whole = replace(scenario(from_="child", to="van"), encounters={})
    (plan,) = sights_of(whole, pose_of, {"other": 2.0})
    assert plan.to_collision_s is None
    assert plan.first_s == 0.0
    assert plan.episodes == ((0.0, 2.0),)
