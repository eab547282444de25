"""Conflict zones and gaps against plane geometry worked out by hand."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from choreo.verification.projection import gap_state, nearest_station_m
from choreo.verification.separation import Figure, separation_m
from choreo.verification.zone import crossing_stations_m, zone_strips
from tests.unit.verification.paths_by_hand import Circle, Straight, body, rectangle

# Every so many-th station is looked at first.
COARSE = 50


def test_square_crossing_gives_half_width_plus_overhangs():
    a = Figure(Straight(x_m=-50.0, length_m=100.0), rectangle(4.3, 1.8, 3.4))
    b = Figure(Straight(y_m=-30.0, heading_rad=math.pi / 2, length_m=60.0), rectangle(4.0, 2.0))
    strips = zone_strips(a, (0.0, 100.0), b, (0.0, 60.0))
    assert strips is not None
    strip = strips[0]
    assert strip.entry_m == pytest.approx(50.0 - 1.0 - 3.4, abs=1e-5)
    assert strip.exit_m == pytest.approx(50.0 + 1.0 + 0.9, abs=1e-5)


def test_slanted_crossing_gives_the_strip_of_the_swept_band():
    # b's band has half width 1 at 30 degrees; a's leading corner reaches it first.
    angle = math.radians(30.0)
    a = Figure(Straight(x_m=-50.0, length_m=100.0), rectangle(4.0, 1.8))
    b = Figure(
        Straight(
            x_m=-50.0 * math.cos(angle),
            y_m=-50.0 * math.sin(angle),
            heading_rad=angle,
            length_m=100.0,
        ),
        rectangle(4.0, 2.0),
    )
    strips = zone_strips(a, (0.0, 100.0), b, (0.0, 100.0))
    reach = (1.0 + 0.9 * math.cos(angle)) / math.sin(angle) + 2.0
    assert strips is not None
    strip = strips[0]
    assert strip.entry_m == pytest.approx(50.0 - reach, abs=1e-5)
    assert strip.exit_m == pytest.approx(50.0 + reach, abs=1e-5)


def test_bodies_on_paths_that_stay_apart_have_no_zone():
    a = Figure(Straight(length_m=100.0), rectangle(4.0, 1.8))
    b = Figure(Straight(y_m=1.9, length_m=100.0), rectangle(4.0, 1.8))
    assert zone_strips(a, (0.0, 100.0), b, (0.0, 100.0)) is None


def test_zone_with_a_circle_is_edged_where_the_bodies_just_touch():
    a = Figure(Circle(30.0, 90.0), rectangle(4.0, 1.8))
    b = Figure(
        Straight(x_m=25.0, y_m=-20.0, heading_rad=math.pi / 2, length_m=80.0), rectangle(0.5, 0.5)
    )
    strips = zone_strips(a, (0.0, 45.0), b, (0.0, 80.0))
    assert strips is not None
    strip = strips[0]
    # The band of b is 24.75 <= x <= 25.25; a's foremost corner enters it, its hindmost leaves it.
    at_entry = _corners_x(a, strip.entry_m).max()
    at_exit = _corners_x(a, strip.exit_m).min()
    assert at_entry == pytest.approx(24.75, abs=1e-5)
    assert at_exit == pytest.approx(25.25, abs=1e-5)


def _corners_x(figure: Figure, station_m: float) -> np.ndarray:
    at = figure.place(np.array([station_m]))
    return at.x_m + at.cos * figure.corners_m[:, 0] - at.sin * figure.corners_m[:, 1]


def test_paths_cross_where_the_line_cuts_the_circle():
    found = crossing_stations_m(
        Circle(30.0, 90.0), Straight(x_m=15.0, y_m=-20.0, heading_rad=math.pi / 2, length_m=60.0)
    )
    assert found is not None
    assert found[0] == pytest.approx(30.0 * math.asin(0.5), abs=1e-6)
    assert found[1] == pytest.approx(20.0 + 30.0 * (1 - math.cos(math.pi / 6)), abs=1e-6)


def test_parallel_paths_do_not_cross():
    assert crossing_stations_m(Straight(), Straight(y_m=3.0)) is None


def test_gap_behind_a_lead_is_bumper_to_bumper():
    state = gap_state(
        Straight(), body(4.3, 1.8, 3.4), (10.0, 20.0), Straight(), body(4.0, 1.8, 3.0), (50.0, 15.0)
    )
    assert state.gap_m == pytest.approx((50.0 - 1.0) - (10.0 + 3.4), abs=1e-6)
    assert state.closing_mps == pytest.approx(5.0, abs=1e-9)


def test_gap_to_an_oncoming_one_ends_at_its_front():
    oncoming = Straight(x_m=200.0, y_m=3.5, heading_rad=math.pi)
    state = gap_state(
        Straight(), body(4.3, 1.8, 3.4), (10.0, 20.0), oncoming, body(4.0, 1.8, 3.0), (50.0, 15.0)
    )
    assert state.gap_m == pytest.approx((150.0 - 3.0) - 13.4, abs=1e-6)
    assert state.closing_mps == pytest.approx(35.0, abs=1e-9)


def test_gap_on_a_circle_is_measured_along_it():
    circle = Circle(50.0, 300.0)
    other = body(4.0, 1.8)
    state = gap_state(circle, body(4.0, 1.8), (0.0, 10.0), circle, other, (40.0, 10.0))
    # The rear centre lies 2 m back on the tangent: its foot is atan(2 / 50) before the reference
    # point.
    rear_m = 40.0 - 50.0 * math.atan(2.0 / 50.0)
    assert state.gap_m == pytest.approx(rear_m - 2.0, abs=1e-6)
    # Two on the same circle at one speed: every point of both turns at one rate, nothing closes.
    assert state.closing_mps == pytest.approx(0.0, abs=1e-9)


def test_gap_round_a_long_bend_still_ends_at_the_rear():
    # 100 m ahead on a circle of 50 m the lead has turned by 115 degrees, yet goes the same way.
    circle = Circle(50.0, 300.0)
    state = gap_state(circle, body(4.0, 1.8), (0.0, 10.0), circle, body(4.0, 1.8), (100.0, 4.0))
    assert state.gap_m == pytest.approx(100.0 - 50.0 * math.atan(2.0 / 50.0) - 2.0, abs=1e-6)
    assert state.closing_mps == pytest.approx(6.0, abs=1e-9)


def test_nearest_station_of_a_point_beside_a_circle_is_its_angle():
    angle = 1.1
    x, y = 28.0 * math.sin(angle), 30.0 - 28.0 * math.cos(angle)
    assert nearest_station_m(Circle(30.0, 90.0), x, y, around_m=5.0) == pytest.approx(
        33.0, abs=1e-9
    )


@settings(max_examples=25, deadline=None)
@given(
    angle=st.floats(0.5, 2.6),
    radius_m=st.floats(12.0, 80.0),
    width_m=st.floats(0.3, 2.5),
    length_m=st.floats(0.3, 6.0),
)
def test_zone_ends_exactly_where_no_placement_overlaps_any_more(angle, radius_m, width_m, length_m):
    # A line through the point a sixth of the circle on, at any angle to it.
    middle_m = radius_m * math.pi / 3
    at = Circle(radius_m, 2 * middle_m).pose(np.array([middle_m]))
    heading = float(at.heading_rad[0]) + angle
    line = Straight(
        float(at.x_m[0]) - 20.0 * math.cos(heading),
        float(at.y_m[0]) - 20.0 * math.sin(heading),
        heading,
        40.0,
    )
    a = Figure(Circle(radius_m, 2 * middle_m), rectangle(length_m, width_m))
    b = Figure(line, rectangle(1.0, 0.6))
    span_a = max(0.0, middle_m - 20.0), min(2 * middle_m, middle_m + 20.0)
    strips = zone_strips(a, span_a, b, (0.0, 40.0))
    assert strips is not None
    strip, others = strips[0], np.linspace(0.0, 40.0, 800 * COARSE + 1)
    if strip.entry_m > span_a[0]:
        assert _least_m(a, strip.entry_m - 0.01, b, others) > 0.0
        assert _least_m(a, strip.entry_m + 0.01, b, others) < 0.0
    if strip.exit_m < span_a[1]:
        assert _least_m(a, strip.exit_m - 0.01, b, others) < 0.0
        assert _least_m(a, strip.exit_m + 0.01, b, others) > 0.0


def _least_m(a: Figure, station_m: float, b: Figure, others_m: np.ndarray) -> float:
    """The least separation over stations of b, which goes straight: it changes by no more than they do."""

    def at(stations_m: np.ndarray) -> np.ndarray:
        at_a = a.place(np.full(len(stations_m), station_m))
        return separation_m(a, at_a, b, b.place(stations_m))

    coarse = at(others_m[::COARSE])
    within = COARSE / 2 * (others_m[1] - others_m[0]) + 1e-9
    # The least is no more than any of these, and no farther than half a step from one of them.
    candidates = np.flatnonzero(coarse <= coarse.min() + within) * COARSE
    around = candidates[:, None] + np.arange(-COARSE // 2, COARSE // 2 + 1)
    return float(at(others_m[np.unique(np.clip(around, 0, len(others_m) - 1))]).min())
