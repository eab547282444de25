"""What is missing where nothing fits."""

import math

import pytest
import shapely
from shapely import Polygon, box

from choreo.fit.short import least_missing, longest_run_m
from tests.unit.fit.shapes import L_PAD, STRIP, request


def test_strip_that_is_too_short_lacks_half_at_each_end() -> None:
    # 1120 m on a strip 1020 m long: 50 m stick out at each end.
    missing = least_missing(request(box(0, 0, 1120, 60), STRIP))
    assert missing.short_m == pytest.approx(50.0, abs=1.0)
    assert missing.away_rad is not None
    assert abs(math.sin(missing.away_rad)) < 0.2


def test_margin_asked_for_counts_as_missing() -> None:
    missing = least_missing(request(box(0, 0, 600, 12), STRIP, least_margin_m=30.0))
    assert missing.short_m == pytest.approx(6.0, abs=0.5)


def test_obstacle_that_can_not_be_avoided_is_what_is_in_the_way() -> None:
    pillars = [box(x, y, x + 1, y + 1) for x in range(10, 100, 20) for y in range(10, 100, 20)]
    site = box(0, 0, 100, 100).difference(shapely.union_all(pillars))
    missing = least_missing(request(box(0, 0, 50, 50), site))
    assert missing.short_m > 5
    assert missing.away_rad is None
    assert shapely.union_all(pillars).distance(shapely.Point(missing.at_m)) < 1e-9


def test_longest_run_of_a_rectangle_is_its_diagonal() -> None:
    assert longest_run_m(STRIP) == pytest.approx(math.hypot(1020, 60), abs=1e-3)


def test_longest_run_of_an_l_touches_its_inner_corner() -> None:
    arm = Polygon([(0, 0), (100, 0), (100, 10), (10, 10), (10, 100), (0, 100)])
    # From the far corner (100, 0) of one arm through (10, 10) to (0, 100 / 9).
    assert longest_run_m(arm) == pytest.approx(math.hypot(100, 100 / 9), abs=1e-3)


def test_longest_run_goes_along_edges_and_past_obstacles() -> None:
    run = longest_run_m(L_PAD)
    assert run is not None
    assert run >= 300.0


def test_hairline_gap_that_can_not_be_avoided_is_never_less_than_nothing_missing() -> None:
    # Two halves a hundredth of a millimetre apart.
    site = shapely.union_all([box(0, 0, 50, 40), box(50.00001, 0, 100, 40)])
    missing = least_missing(request(box(0, 0, 80, 6), site))
    assert missing.short_m > 0
