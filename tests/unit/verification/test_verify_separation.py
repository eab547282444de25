"""Separation and first touch against distances and times worked out by hand."""

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from choreo.verification.integration import integrate
from choreo.verification.separation import Figure, Pair, separation_m
from tests.unit.verification.paths_by_hand import Circle, Straight, rectangle


def _steady(speed_mps: float, start_m: float = 0.0, launch_s: float = 0.0, lasting_s: float = 30.0):
    return integrate(start_m, speed_mps, launch_s, [lasting_s], [0.0], [0.0])


def test_two_squares_side_by_side_are_as_far_apart_as_their_gap():
    a = Figure(Straight(), rectangle(2.0, 2.0))
    b = Figure(Straight(y_m=5.0), rectangle(2.0, 2.0))
    zero = np.zeros(1)
    assert separation_m(a, a.place(zero), b, b.place(zero))[0] == pytest.approx(3.0, abs=1e-12)


def test_a_square_turned_by_45_degrees_touches_with_its_corner():
    a = Figure(Straight(), rectangle(2.0, 2.0))
    b = Figure(Straight(x_m=5.0, heading_rad=math.pi / 4), rectangle(2.0, 2.0))
    zero = np.zeros(1)
    expected = 5.0 - 1.0 - math.sqrt(2.0)
    assert separation_m(a, a.place(zero), b, b.place(zero))[0] == pytest.approx(expected, abs=1e-12)


def test_overlapping_bodies_have_no_positive_separation():
    a = Figure(Straight(), rectangle(4.0, 2.0))
    b = Figure(Straight(x_m=1.0, heading_rad=1.0), rectangle(4.0, 0.2))
    zero = np.zeros(1)
    assert separation_m(a, a.place(zero), b, b.place(zero))[0] < 0.0


def test_head_on_pair_touches_when_the_gap_is_used_up():
    a = Figure(Straight(), rectangle(4.0, 2.0))
    b = Figure(Straight(x_m=100.0, heading_rad=math.pi), rectangle(4.0, 2.0))
    pair = Pair(a, _steady(20.0), b, _steady(12.0))
    assert pair.first_touch(0.0, 30.0) == pytest.approx(96.0 / 32.0, abs=1e-9)


def test_thin_fast_bodies_are_not_tunnelled_through():
    # At 100 m/s each body passes through the other in 1 ms: a fiftieth of the search's clock.
    thin = rectangle(0.05, 0.05)
    a = Figure(Straight(x_m=-51.37), thin)
    b = Figure(Straight(y_m=-51.37, heading_rad=math.pi / 2), thin)
    touch = Pair(a, _steady(100.0), b, _steady(100.0)).first_touch(0.0, 10.0)
    assert touch == pytest.approx((51.37 - 0.05) / 100.0, abs=1e-9)


def test_bodies_that_pass_five_centimetres_apart_do_not_touch():
    a = Figure(Straight(), rectangle(4.0, 2.0))
    b = Figure(Straight(x_m=200.0, y_m=2.05, heading_rad=math.pi), rectangle(4.0, 2.0))
    assert Pair(a, _steady(30.0), b, _steady(30.0)).first_touch(0.0, 30.0) == math.inf


def test_a_graze_of_one_millimetre_is_found():
    a = Figure(Straight(), rectangle(4.0, 2.0))
    b = Figure(Straight(x_m=200.0, y_m=1.999, heading_rad=math.pi), rectangle(4.0, 2.0))
    touch = Pair(a, _steady(30.0), b, _steady(30.0)).first_touch(0.0, 30.0)
    assert touch == pytest.approx(196.0 / 60.0, abs=1e-9)


def test_bodies_that_touch_from_the_start_touch_at_once():
    a = Figure(Straight(), rectangle(4.0, 2.0))
    b = Figure(Straight(x_m=1.0), rectangle(4.0, 2.0))
    assert Pair(a, _steady(1.0), b, _steady(0.0)).first_touch(0.0, 5.0) == 0.0


def test_the_first_of_two_touches_is_given():
    # The standing post is passed by a thin bar twice as it goes round a circle of 20 pi metres.
    a = Figure(Circle(10.0, 200.0), rectangle(0.5, 0.5))
    b = Figure(Straight(x_m=10.0, y_m=10.0), rectangle(0.2, 0.2))
    pair = Pair(a, _steady(10.0), b, _steady(0.0))
    touch = pair.first_touch(0.0, 30.0)
    assert touch == pytest.approx(5 * math.pi / 10.0, abs=0.05)


def test_the_first_of_several_touches_between_two_looks_is_given():
    # Twenty laps a second: the post is passed several times before the clock looks again.
    a = Figure(Circle(0.5, 1000.0), rectangle(0.1, 0.1))
    b = Figure(Straight(x_m=0.5, y_m=0.5), rectangle(0.1, 0.1))
    touch = Pair(a, _steady(20 * math.pi), b, _steady(0.0)).first_touch(0.0, 5.0)
    assert touch == pytest.approx(1 / 80, abs=0.004)


def test_pair_that_stands_apart_never_touches():
    a = Figure(Straight(), rectangle(4.0, 2.0))
    b = Figure(Straight(x_m=4.01), rectangle(4.0, 2.0))
    assert Pair(a, _steady(0.0), b, _steady(0.0)).first_touch(0.0, 5.0) == math.inf


@settings(max_examples=30, deadline=None)
@given(
    speed_a=st.floats(1.0, 60.0),
    speed_b=st.floats(1.0, 60.0),
    angle=st.floats(0.4, 2.7),
    late_s=st.floats(-0.4, 0.4),
    width=st.floats(0.05, 2.0),
)
def test_nothing_touches_before_the_first_touch(speed_a, speed_b, angle, late_s, width):
    a = Figure(Straight(x_m=-3 * speed_a), rectangle(1.0, width))
    start = -3 * speed_b + late_s * speed_b
    b = Figure(
        Straight(x_m=start * math.cos(angle), y_m=start * math.sin(angle), heading_rad=angle),
        rectangle(0.6, width),
    )
    pair = Pair(a, _steady(speed_a), b, _steady(speed_b))
    touch = pair.first_touch(0.0, 6.0)
    assume(touch > 0.0)
    times = np.linspace(0.0, min(touch - 1e-6, 6.0), 20001)
    assert pair.separation(times).min() > 0.0
    if math.isfinite(touch):
        assert abs(float(pair.separation(np.array([touch]))[0])) < 1e-6
