"""Gaps along a path, crossings of reference points, and zones of swept bodies."""

import math

import numpy as np
import pytest
import shapely

from choreo.geometry import Path, build_paths, conflict_zone, crossing_point, gap_track
from tests.unit.geometry.made import (
    CAR,
    TARGET,
    WALKER,
    beside,
    built,
    chain,
    line,
    piece,
    placed,
    straight,
)

LANE = straight(0, 0, 0, 400)
TURN = built(
    chain(
        line(100.0),
        piece(
            "bend", radius_m=9.0, angle_rad=math.radians(90), clothoid_angle_rad=math.radians(20.62)
        ),
        line(50.0),
    )
)
ONCOMING = straight(300, 3.5, 180, 300)
OBLIQUE = straight(200, -50, 40, 100)


def test_gap_in_one_lane_is_measured_to_the_rear_of_the_one_ahead() -> None:
    assert gap_track(LANE, CAR, LANE, TARGET).at(100.0) == pytest.approx((99.0, 1.0), abs=1e-12)


def test_gap_to_an_oncoming_one_is_measured_to_its_front() -> None:
    assert gap_track(LANE, CAR, ONCOMING, TARGET).at(100.0) == pytest.approx(
        (197.0, -1.0), abs=1e-12
    )


def test_gap_in_a_parallel_lane_ignores_the_distance_aside() -> None:
    paths = build_paths({"lane": chain(line(400.0)), "next": beside("lane", 3.5)})
    track = gap_track(paths["lane"], CAR, paths["next"], TARGET)
    assert track.at(100.0) == pytest.approx((99.0, 1.0), abs=1e-12)


def test_slope_of_the_gap_is_its_derivative_in_a_lane_change_and_on_curves() -> None:
    shifting = built(chain(line(50.0), piece("shift", offset_m=3.5, length_m=40.0), line(50.0)))
    curve = built(chain(line(20.0), piece("arc", radius_m=60.0, angle_rad=1.5)))
    inner = build_paths(
        {
            "base": chain(line(20.0), piece("arc", radius_m=60.0, angle_rad=1.5)),
            "in": beside("base", 3.0),
        }
    )["in"]
    for path_a, path_b, at in (
        (LANE, shifting, 66.0),
        (LANE, shifting, 74.0),
        (curve, inner, 60.0),
    ):
        track = gap_track(path_a, CAR, path_b, TARGET)
        h = 1e-4
        secant = (track.at(at + h)[0] - track.at(at - h)[0]) / (2 * h)
        assert track.at(at)[1] == pytest.approx(secant, abs=1e-6)


def test_gap_on_the_inner_lane_of_a_bend_runs_faster_than_its_own_station() -> None:
    paths = build_paths(
        {"base": chain(piece("arc", radius_m=60.0, angle_rad=1.5)), "in": beside("base", 3.0)}
    )
    body_like_point = TARGET.__class__(**(vars(TARGET) | {"rear_m": 0.0}))
    track = gap_track(paths["base"], CAR, paths["in"], body_like_point)
    assert track.at(30.0) == pytest.approx((30.0 * 60 / 57, 60 / 57), abs=1e-9)


def test_straight_paths_cross_where_arithmetic_says() -> None:
    crossing = crossing_point(LANE, straight(310, -4, 90, 9))
    assert crossing == pytest.approx((310.0, 4.0), abs=1e-10)


def test_first_of_two_crossings_is_told() -> None:
    hairpin = built(chain(line(60.0), piece("arc", radius_m=10.0, angle_rad=math.pi), line(60.0)))
    assert crossing_point(hairpin, straight(30, -10, 90, 45)) == pytest.approx(
        (30.0, 10.0), abs=1e-9
    )


def test_crossing_of_curves_is_one_place_on_both() -> None:
    crossing = crossing_point(TURN, ONCOMING)
    assert crossing is not None
    a, b = TURN.pose(np.array([crossing[0]])), ONCOMING.pose(np.array([crossing[1]]))
    assert math.hypot(a.x_m[0] - b.x_m[0], a.y_m[0] - b.y_m[0]) < 1e-9


@pytest.mark.parametrize(
    "other", [straight(0, 3.5, 0, 400), straight(0, 0, 0, 400), straight(500, -4, 90, 9)]
)
def test_paths_that_run_along_each_other_or_end_before_do_not_cross(other: Path) -> None:
    assert crossing_point(LANE, other) is None


def test_zone_of_a_right_angled_crossing_is_told_by_arithmetic() -> None:
    zone = conflict_zone(LANE, CAR, straight(310, -4, 90, 9), WALKER)
    assert zone is not None
    expected = (310 - 0.25 - 3.4, 310 + 0.25 + 0.9, 4 - 0.9 - 0.3, 4 + 0.9 + 0.3)
    assert zone[:4] == pytest.approx(expected, abs=1e-9)
    assert zone.once


def test_zone_is_the_same_seen_from_both_movers() -> None:
    one, other = (
        conflict_zone(TURN, CAR, ONCOMING, TARGET),
        conflict_zone(ONCOMING, TARGET, TURN, CAR),
    )
    assert one is not None
    assert other is not None
    assert one[:4] == pytest.approx((other[2], other[3], other[0], other[1]), abs=1e-9)


@pytest.mark.parametrize("apex_m", [10.0, 10.25])
def test_zone_is_found_between_samples_when_bodies_graze_by_a_millimetre(apex_m: float) -> None:
    # A walker on a right-hand circle of 20 m whose front and rear left corners come 1 mm into the strip.
    radius, depth = 20.0, 0.001
    corner, lead = math.hypot(radius + 0.25, 0.3), math.atan2(0.3, radius + 0.25)
    turned = apex_m / radius
    centre_y = -0.9 + depth - corner
    start = (310 - radius * math.sin(turned), centre_y + radius * math.cos(turned))
    path = built(
        chain(piece("arc", radius_m=radius, angle_rad=-1.0), start=start, heading_rad=turned)
    )
    zone = conflict_zone(LANE, CAR, path, WALKER)
    assert zone is not None
    reach = radius * (lead + math.acos(1 - depth / corner))
    assert zone[2:4] == pytest.approx((apex_m - reach, apex_m + reach), abs=1e-7)


@pytest.mark.parametrize(("path_a", "path_b"), [(TURN, ONCOMING), (LANE, OBLIQUE)])
def test_bodies_at_a_zones_edges_just_touch_what_the_other_sweeps(
    path_a: Path, path_b: Path
) -> None:
    zone = conflict_zone(path_a, CAR, path_b, TARGET)
    assert zone is not None
    sides = (
        (path_a, CAR, path_b, TARGET, zone.entry_a_m, -1),
        (path_a, CAR, path_b, TARGET, zone.exit_a_m, 1),
        (path_b, TARGET, path_a, CAR, zone.entry_b_m, -1),
        (path_b, TARGET, path_a, CAR, zone.exit_b_m, 1),
    )
    for path, thing, other_path, other, station, outwards in sides:
        centre = path.pose(np.array([station]))
        near = other_path.nearest(float(centre.x_m[0]), float(centre.y_m[0]))
        swept = shapely.union_all(
            [
                shapely.Polygon(placed(other_path, other, float(s))).convex_hull
                for s in np.arange(near - 9, near + 9, 0.008)
            ]
        )
        outside = shapely.Polygon(placed(path, thing, station + 0.008 * outwards))
        inside = shapely.Polygon(placed(path, thing, station - 0.008 * outwards))
        assert outside.distance(swept) > 0.0
        assert inside.distance(swept) == 0.0


@pytest.mark.parametrize(
    "other",
    [
        straight(0, 0, 0, 400),  # one lane: in the strip from the start
        straight(0, 20, 0, 400),  # never together
        straight(310, 0, 90, 30),  # starts inside
        straight(310, -30, 90, 30),  # ends inside
        built(
            chain(
                line(100.0),
                piece("shift", offset_m=3.5, length_m=60.0),
                line(50.0),
                start=(0, -3.5),
            )
        ),
    ],
)
def test_without_a_zone_to_enter_and_leave_there_is_none(other: Path) -> None:
    assert conflict_zone(LANE, CAR, other, TARGET) is None


def test_gap_on_a_path_that_winds_over_itself_is_of_the_same_pass() -> None:
    lap = (line(200.0), piece("arc", radius_m=50.0, angle_rad=math.pi))
    winding = built(chain(*(lap * 6), line(200.0)))
    once_m = 2 * (200.0 + 50.0 * math.pi)
    track = gap_track(winding, CAR, winding, TARGET)
    for laps in range(4):
        assert track.at(100.0 + laps * once_m)[0] == pytest.approx(99.0 + laps * once_m, abs=1e-9)
