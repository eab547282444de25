"""First touches of a run by proofs of clearance, against the search on samples and against closed forms."""

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from choreo.geometry import CurvePath
from choreo.geometry.cusps import CuspPath
from choreo.verification.clearing import Course
from choreo.verification.closing import Cubic, all_closed, used_up
from choreo.verification.integration import integrate
from choreo.verification.separation import Figure, Pair
from choreo.verification.tolerances import GRAZE_M
from tests.unit.verification.paths_by_hand import Straight, rectangle

CAR = rectangle(4.3, 1.8, 3.4)


def _course(figures, motions, until_s=30.0):
    return Course(
        dict(zip("ab", figures, strict=True)), dict(zip("ab", motions, strict=True)), until_s
    )


def _standing(station_m):
    return integrate(station_m, 0.0, 0.0, [], [], [])


def test_a_braking_car_touches_a_standing_one_when_the_quadratic_says():
    # 20 m/s for 1 s, then 4 m/s2: 20 + 20 t - 2 t^2 m after 1 + t s. 60 m ahead is the standing one's tail.
    lane = Straight()
    moving = integrate(0.0, 20.0, 0.0, [1.0, 5.0], [0.0, -4.0], [0.0, 0.0])
    figures = Figure(lane, rectangle(4.0, 2.0)), Figure(lane, rectangle(4.0, 2.0))
    touch = _course(figures, (moving, _standing(64.0))).touch_s("a", "b")
    assert touch == pytest.approx(1.0 + (20.0 - math.sqrt(400.0 - 8.0 * 40.0)) / 4.0, abs=1e-9)


def test_one_that_stops_a_tenth_of_a_millimetre_short_doesn_t_touch():
    lane = Straight()
    moving = integrate(0.0, 20.0, 0.0, [5.0], [-4.0], [0.0])
    figures = Figure(lane, rectangle(4.0, 2.0)), Figure(lane, rectangle(4.0, 2.0))
    assert _course(figures, (moving, _standing(54.0 + 1e-4))).touch_s("a", "b") == math.inf
    assert _course(figures, (moving, _standing(54.0 - 1e-4))).touch_s("a", "b") < 5.0


def test_two_that_overlap_from_the_start_touch_at_once():
    figures = Figure(Straight(), CAR), Figure(Straight(x_m=1.0), CAR)
    rolls = integrate(0.0, 1.0, 0.0, [5.0], [0.0], [0.0])
    assert _course(figures, (_standing(0.0), rolls)).touch_s("a", "b") == 0.0
    assert _course(figures, (_standing(0.0), _standing(0.0))).touch_s("a", "b") == 0.0
    assert _course(figures, (_standing(0.0), _standing(50.0))).touch_s("a", "b") == math.inf


def test_one_that_waits_where_its_path_turns_round_is_not_overlooked():
    legs = [CurvePath([(30.0, 0.0, 0.0)]), CurvePath([(70.0, 0.0, 0.0)], (30.0, 0.0), math.pi)]
    figures = Figure(CuspPath(legs, {}), CAR), Figure(Straight(x_m=-80.0), CAR)
    # It comes to the cusp, waits there for 8 s and is hit meanwhile by one that comes from behind.
    waits = integrate(10.0, 0.0, 0.0, [2.0, 8.0, 2.0], [5.0, 0.0, 5.0], [-5.0, 0.0, 0.0])
    comes = integrate(0.0, 15.0, 0.0, [20.0], [0.0], [0.0])
    touch = _course(figures, (waits, comes)).touch_s("a", "b")
    assert touch == pytest.approx(
        Pair(figures[0], waits, figures[1], comes).first_touch(0.0, 30.0), abs=1e-9
    )
    assert touch < 10.0


@settings(max_examples=40, deadline=None)
@given(
    speeds=st.tuples(st.floats(1.0, 30.0), st.floats(0.0, 30.0)),
    accels=st.tuples(st.floats(-3.0, 3.0), st.floats(-3.0, 3.0)),
    jerk=st.floats(-1.0, 1.0),
    angle=st.floats(0.0, 6.3),
    beside_m=st.floats(-6.0, 6.0),
    radius_m=st.sampled_from([0.0, 15.0, 130.0]),
)
def test_the_first_touch_is_the_one_that_samples_find(
    speeds, accels, jerk, angle, beside_m, radius_m
):
    bend = 1.0 / radius_m if radius_m else 0.0
    way = CurvePath([(40.0, 0.0, 0.0), (30.0, bend, bend), (30.0, -bend, bend), (40.0, 0.0, 0.0)])
    x, y, heading, _ = way.pose_at(70.0)
    figures = (
        Figure(way, CAR),
        Figure(
            Straight(
                x - 60.0 * math.cos(heading + angle),
                y - 60.0 * math.sin(heading + angle) + beside_m,
                heading + angle,
            ),
            CAR,
        ),
    )
    motions = (
        integrate(0.0, speeds[0], 0.5, [2.0, 3.0], [accels[0], 0.0], [jerk, 0.0]),
        integrate(0.0, speeds[1], 0.0, [4.0], [accels[1]], [0.0]),
    )
    found = _course(figures, motions, 8.0).touch_s("a", "b")
    pair = Pair(figures[0], motions[0], figures[1], motions[1])
    sampled = pair.first_touch(0.0, 8.0)
    if math.isinf(sampled) and math.isfinite(found):
        # What samples may overlook: a graze.
        assert float(pair.separation(np.array([found]))[0]) <= 1e-8
        assume(float(pair.separation(found + np.linspace(0.0, 0.1, 101)).min()) < -GRAZE_M)
    assert found == pytest.approx(sampled, abs=1e-8)


def test_a_gap_that_closes_opens_and_closes_counts_to_the_first():
    # (1 - t)(2 - t)(3.5 - t) = 7 - 12.5 t + 6.5 t^2 - t^3 over 4 s.
    first, last = 7.0, 7.0 - 50.0 + 104.0 - 64.0
    slope_0, slope_4 = -12.5, -12.5 + 13.0 * 4.0 - 3.0 * 16.0
    gap = Cubic(4.0, first, first + slope_0 * 4.0 / 3.0, last - slope_4 * 4.0 / 3.0, last)
    always = Cubic(4.0, -1.0, -1.0, -1.0, -1.0)
    assert all_closed([always, gap]) == pytest.approx(1.0, abs=1e-8)
    later = Cubic(4.0, 2.2, 2.2 - 4.0 / 3.0, 2.2 - 8.0 / 3.0, -1.8)
    assert all_closed([later, gap]) == pytest.approx(3.5, abs=1e-8)
    assert all_closed([Cubic(4.0, 1.0, 1.0, 1.0, 1.0), gap]) == math.inf


@pytest.mark.parametrize("root", [1e-9, 0.3, 7.0, 9.999999])
def test_a_single_root_is_closed_in_from_both_sides(root):
    found = used_up(lambda u: (root**3 - u**3, -3.0 * u * u), 10.0)
    assert found == pytest.approx(root, abs=1.1e-11)
    assert root**3 - found**3 <= 0.0
