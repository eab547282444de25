"""What a plan says of its room: clearance, runway, site, stops beyond paths and into things that stand."""

from pathlib import Path

import pytest

from choreo.plans.document import from_text, to_text
from choreo.plans.record import Plan
from tests.unit.room.surveyed_runs import area, run, scenario_text, site_text

PAD = area("pad", -20, -20, 320, 20, ", friction: 0.9")
VAN = "  van: {stand: {at: [80 m, %s m], heading: 0 deg}, body: {length: 5 m, width: 2 m}}\n"


def planned(folder: Path, more: str = "", areas: str = PAD, **changes: str) -> Plan:
    """The plan of the scenario with more in it."""
    return run(folder, scenario_text(more, **changes), site_text(areas)).plan


def codes(plan: Plan) -> set[str]:
    """Codes of a plan's warnings and failed checks."""
    assert plan.space is not None
    return {one.code for one in (*plan.warnings, *plan.space.failures)}


def test_required_runway_holds_the_longer_of_run_out_and_stop(tmp_path: Path) -> None:
    slow = "{speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2, failsafe: {brake: 2 m/s2, reaction: 1 s}}"
    quick = slow.replace("failsafe: {brake: 2 m/s2, reaction: 1 s}", "failsafe: {brake: 7 m/s2}")
    for limits, longer in ((quick, False), (slow, True)):
        plan = planned(tmp_path, limits=limits)
        runway = plan.movers["subject"].runway
        assert runway.failsafe_m is not None
        assert runway.required_m is not None
        assert (runway.required_m > runway.total_m + 1e-6) is longer
        if longer:
            # At 10 m/s: 10 m of reaction and 25 m of braking, begun where the braking by plan begins, after
            # 16.67 m to speed and 50 m at it.
            assert runway.required_m == pytest.approx(16.667 + 50.0 + 35.0, abs=0.01)


def test_near_miss_is_warned_of_with_place_and_time(tmp_path: Path) -> None:
    # The car's side is at 0.9 m, the van's at 1.2 m.
    plan = planned(tmp_path, VAN % 2.2)
    assert "space.near-miss" in codes(plan)
    assert plan.space is not None
    (pair,) = plan.space.clearances
    assert pair.least_m == pytest.approx(0.3, abs=0.001)
    assert pair.least_m <= 0.3
    assert plan.space.clear
    assert "space.near-miss" not in codes(
        planned(tmp_path, VAN % 2.2 + "safety: {clearance: 0.3 m}\n")
    )


def test_margin_on_the_site_is_what_is_left_beside_the_lane(tmp_path: Path) -> None:
    plan = planned(tmp_path)
    assert plan.space is not None
    assert plan.space.site is not None
    # 20 m to the edge, less half a body, 0.15 m and 0.03 m of errors; the rounding of corners costs a little.
    assert plan.space.site.margin_m == pytest.approx(20 - 0.9 - 0.18, abs=0.001)
    assert plan.space.site.edge == "the edge of pad"


def test_obstacle_of_the_site_counts_as_its_edge(tmp_path: Path) -> None:
    hut = "obstacles:\n  hut: {outline: [[50 m, 3 m], [60 m, 3 m], [60 m, 9 m], [50 m, 9 m]]}"
    plan = run(tmp_path, scenario_text(), site_text(PAD, hut)).plan
    assert plan.space is not None
    assert plan.space.site is not None
    assert plan.space.site.edge == "hut"
    assert plan.space.site.margin_m == pytest.approx(3.0 - 0.9 - 0.18, abs=0.001)


def test_edge_nearer_than_the_clearance_is_warned_of(tmp_path: Path) -> None:
    plan = planned(tmp_path, areas=area("pad", -20, -1.4, 320, 20))
    assert "space.near-edge" in codes(plan)
    assert plan.space is not None
    assert plan.space.clear


def test_pad_that_is_too_narrow_is_a_failed_check(tmp_path: Path) -> None:
    plan = planned(tmp_path, areas=area("pad", -20, -1.0, 320, 20))
    assert "space.leaves-site" in codes(plan)
    assert plan.space is not None
    assert not plan.space.clear
    assert plan.space.site is not None
    assert plan.space.site.margin_m == pytest.approx(-0.08, abs=0.001)


def test_stop_beyond_the_end_of_a_path_is_warned_of(tmp_path: Path) -> None:
    lane = "lane: {start: [0 m, 0 m], heading: 0 deg, pieces: [{line: 100 m}]}"
    slow = "{speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2, failsafe: {brake: 2 m/s2, reaction: 1 s}}"
    plan = planned(tmp_path, paths=lane, limits=slow)
    assert "space.path-short" in codes(plan)
    assert plan.space is not None
    # To speed in 16.67 m from 10 m on, held for 50 m; then 10 m of reaction and 25 m of braking.
    assert plan.space.stops["subject"].path_short_m == pytest.approx(11.67, abs=0.01)


def test_stop_straight_on_out_of_a_bend_into_a_parked_van_is_warned_of(tmp_path: Path) -> None:
    lane = (
        "lane: {start: [0 m, 0 m], heading: 0 deg, pieces: [{line: 60 m}, {arc: {radius: 30 m, angle: 90 deg}}, "
        "{line: 60 m}]}"
    )
    van = "  van: {stand: {at: [74 m, 0 m], heading: 0 deg}, body: {length: 5 m, width: 2 m}}\n"
    pad = area("pad", -20, -40, 200, 200)
    with_van = planned(tmp_path, van, areas=pad, paths=lane)
    assert "space.stop-touches" in codes(with_van)
    away = van.replace("74 m", "150 m")
    assert "space.stop-touches" not in codes(planned(tmp_path, away, areas=pad, paths=lane))


def test_run_that_all_together_can_not_break_off_is_warned_of(tmp_path: Path) -> None:
    # The lead stops at once, the follower late: from the first instant on stopping both makes them touch.
    text = """\
  lead:
    path: lane
    body: {length: 4 m, width: 1.8 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2, failsafe: {brake: 9 m/s2, reaction: 0 s}}
    start: {station: 20 m, speed: 36 km/h}
    programme: [{hold: {until: end of subject.hold}}, {stop: {}}]
"""
    slow = "{speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2, failsafe: {brake: 2 m/s2, reaction: 1 s}}"
    steps = "[{hold: {for: 4 s}}, {stop: {}}]"
    whole = run(
        tmp_path,
        scenario_text(text, programme=steps, limits=slow).replace(
            "start: {station: 10 m}", "start: {station: 10 m, speed: 36 km/h}"
        )
        + "encounters:\n  close: {kind: gap, of: subject, with: lead, distance: 4..5 m, at: end of subject.hold}\n",
        site_text(PAD),
    )
    assert whole.plan.verdict == "feasible"
    assert "space.no-way-back" in codes(whole.plan)


def test_plan_document_with_its_room_is_read_back_whole(tmp_path: Path) -> None:
    plan = planned(tmp_path, VAN % 2.2)
    assert from_text(to_text(plan), "plan.json") == plan


WEAVE = (
    "lane: {course: weave, start: [0 m, 0 m], speed: 36 km/h, frequency: 0.2 Hz, "
    "lateral acceleration: %s, count: 1, run-up: 60 m}"
)
WOVEN = (
    "[{ramp: {to: 36 km/h}}, {hold: {settle: 1 s, settled by: start of subject.manoeuvre, "
    "until: end of subject.manoeuvre}}, {stop: {}}]"
)


def test_way_aside_of_a_weave_is_part_of_what_is_swept(tmp_path: Path) -> None:
    limits = "{speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2, lateral: 3 m/s2}"
    plan = planned(tmp_path, VAN % 4.0, paths=WEAVE % "2 m/s2", programme=WOVEN, limits=limits)
    assert plan.space is not None
    assert plan.space.site is not None
    assert "space.aside-counted" in codes(plan)
    # 2 m/s2 at 0.2 Hz: 2 / 1.2566^2 = 1.2665 m aside, 1.592 m/s across at 10 m/s. A stop from there goes 0.159 times as
    # far aside as its way and the body's corner before it; between two instants that are looked at it is 0.1 m longer.
    stop = plan.space.stops["subject"].longest_m
    arm = 0.15915 * (stop + (3.4**2 + 0.9**2) ** 0.5)
    aside = (1.2665**2 + arm**2) ** 0.5
    assert 0.0 <= 20 - 0.9 - 0.18 - aside - plan.space.site.margin_m < 0.02
    # The van's side is at 3 m, the car's at 0.9 m; its body comes up to (1.2665^2 + 0.5597^2)^0.5 m nearer.
    (pair,) = plan.space.clearances
    assert pair.least_m == pytest.approx(3.0 - 0.9 - 1.3847, abs=0.002)
    more = planned(tmp_path, paths=WEAVE % "4 m/s2", programme=WOVEN, limits=limits)
    assert more.space is not None
    (failed,) = more.space.failures
    assert "4.00 m/s2 sideways, its limit is 3.00" in failed.text


def test_start_behind_the_manoeuvre_of_a_course_is_warned_of(tmp_path: Path) -> None:
    # The change is from 5 to 35 m, or from 2 to 8 m; the car starts at 10 m.
    change = "lane: {course: lane change, start: [0 m, 0 m], aside: 1 m, length: %s, run-up: %s, run-out: 250 m}"
    assert "space.past-course" not in codes(planned(tmp_path, paths=change % ("30 m", "5 m")))
    assert "space.past-course" in codes(planned(tmp_path, paths=change % ("6 m", "2 m")))
