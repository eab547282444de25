"""Clearance against brute force with shapely: never more than the truth, and within a millimetre of it."""

import numpy as np
import pytest
import shapely

from choreo.room.clearance import nearest, nearest_place
from tests.unit.track.tracks_by_hand import (
    CAR,
    WALKER,
    bodies,
    random_track,
    stations,
    straight,
    track,
)

PAIRS = 300
SAMPLES = 120


def test_clearance_of_random_pairs_is_a_bound_within_a_millimetre() -> None:
    # Reference: shapely (GEOS) distances of both polygons at many instants. No sample may come below the
    # bound, and at the time that is told for it the distance is at most 1 mm more: so the truth lies between.
    random = np.random.default_rng(20240521)
    near = touching = 0
    for _ in range(PAIRS):
        a, b = random_track(random), random_track(random)
        if not (a.moves or b.moves):
            continue
        end = max(a.end_s, b.end_s)
        found = nearest(a, b, np.zeros(1), np.array([end]))
        least, at = float(found.least_m[0]), float(found.time_s[0])
        # Evenly over the run, and close round the told instant.
        times = np.concatenate(
            (
                np.linspace(0.0, end, SAMPLES),
                np.clip(at + np.linspace(-0.05, 0.05, 41), 0.0, end),
                [at],
            )
        )
        s_a, s_b = stations(a, times), stations(b, times)
        p_a, p_b = a.path.pose(s_a), b.path.pose(s_b)
        middles = np.hypot(p_a.x_m - p_b.x_m, p_a.y_m - p_b.y_m)
        # Bodies are no farther apart than their middles, and nearer by no more than their radii.
        closest = middles <= middles.min() + a.radius_m + b.radius_m
        closest[-1] = True
        apart = shapely.distance(bodies(a, s_a[closest]), bodies(b, s_b[closest]))
        assert least <= apart.min() + 1e-9
        assert apart[-1] - least <= 0.001
        near += 0.0 < least < 5.0
        touching += least == 0.0
    assert near > PAIRS / 10
    assert touching > PAIRS / 20


def test_follower_at_a_constant_gap_keeps_exactly_that_gap() -> None:
    path = straight(400.0)
    lead = track(path, [(20.0, 0.0, 0.0)], start_m=20.0, start_mps=14.0)
    follower = track(path, [(20.0, 0.0, 0.0)], start_m=0.0, start_mps=14.0)
    # 20 m between the reference points, less 3.4 m to the front and 0.9 m to the rear.
    found = nearest(follower, lead, np.zeros(1), np.array([20.0]))
    assert found.least_m[0] == pytest.approx(15.7, abs=0.001)
    assert found.least_m[0] <= 15.7


def test_thin_and_fast_bodies_do_not_slip_through_between_samples() -> None:
    needle = np.array([(0.01, 0.01), (-0.01, 0.01), (-0.01, -0.01), (0.01, -0.01)])
    one = track(straight(200.0, (-100.0, 0.0)), [(2.0, 0.0, 0.0)], corners=needle, start_mps=100.0)
    other = track(
        straight(200.0, (0.0, -100.0), np.pi / 2),
        [(2.0, 0.0, 0.0)],
        corners=needle,
        start_mps=100.0,
    )
    assert nearest(one, other, np.zeros(1), np.array([2.0])).least_m[0] == 0.0


def test_standing_bodies_are_as_far_apart_as_they_stand() -> None:
    van = track(straight(1.0, (10.0, 3.0)), [], corners=CAR)
    walker = track(straight(1.0, (5.0, 3.0)), [], corners=WALKER)
    found = nearest(van, walker, np.zeros(1), np.array([5.0]))
    # The van's rear is at 9.1 m, the walker's front at 5.3 m.
    assert found.least_m[0] == pytest.approx(3.8, abs=0.001)
    assert nearest_place(van, walker, 0.0)[0] == pytest.approx((9.1 + 5.3) / 2)


def test_floors_decide_on_which_side_a_case_lies() -> None:
    lane = straight(400.0)
    passing = track(lane, [(10.0, 0.0, 0.0)], start_mps=20.0)
    parked = track(straight(1.0, (100.0, 3.0)), [], corners=CAR)
    # Sides 0.9 m and 3.0 - 0.9 m from the lane's middle: 1.2 m apart.
    floors = np.array([1.0, 1.19, 1.21, 3.0])
    found = nearest(passing, parked, np.zeros(4), np.full(4, 10.0), floors)
    assert list(found.least_m >= floors) == [True, True, False, False]


def test_case_without_time_to_look_at_is_infinitely_clear() -> None:
    one = track(straight(10.0), [(1.0, 0.0, 0.0)], start_mps=1.0)
    found = nearest(one, one, np.array([3.0]), np.array([2.0]))
    assert np.isinf(found.least_m[0])
