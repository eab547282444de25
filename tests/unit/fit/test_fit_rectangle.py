"""The smallest rectangle: against shapely's, against a sweep of angles, and margins."""

import math

import numpy as np
import pytest
import shapely
from shapely import box

from choreo.fit.rectangle import least_rectangle
from tests.unit.fit.shapes import CROSSING, random_footprint


@pytest.mark.parametrize("seed", range(6))
def test_rectangle_without_margin_is_shapelys(seed: int) -> None:
    footprint = random_footprint(np.random.default_rng(seed))
    found = least_rectangle(footprint)
    wanted = shapely.oriented_envelope(footprint).area
    assert found.length_m * found.width_m == pytest.approx(wanted, rel=1e-9)
    assert found.length_m >= found.width_m


@pytest.mark.parametrize("margin_m", [0.0, 2.0, 30.0])
def test_no_other_angle_gives_less_area(margin_m: float) -> None:
    found = least_rectangle(CROSSING, margin_m)
    corners = shapely.get_coordinates(CROSSING)
    least = math.inf
    for angle in np.linspace(0, math.pi / 2, 2000):
        u = corners @ np.array([math.cos(angle), math.sin(angle)])
        v = corners @ np.array([-math.sin(angle), math.cos(angle)])
        least = min(least, (np.ptp(u) + 2 * margin_m) * (np.ptp(v) + 2 * margin_m))
    area = found.length_m * found.width_m
    assert area <= least + 1e-6
    assert area >= 0.999 * least


def test_margin_is_kept_on_all_sides() -> None:
    found = least_rectangle(CROSSING, 2.5)
    rectangle = shapely.Polygon(found.corners())
    assert rectangle.covers(CROSSING)
    assert rectangle.boundary.distance(CROSSING) == pytest.approx(2.5, abs=1e-6)
    assert rectangle.area == pytest.approx(found.length_m * found.width_m)


def test_rectangle_of_a_rectangle_is_itself_with_the_long_side_along() -> None:
    found = least_rectangle(box(10, 20, 14, 120), 1.0)
    assert (found.length_m, found.width_m) == (pytest.approx(102), pytest.approx(6))
    assert math.degrees(found.angle_rad) == pytest.approx(90)
    assert found.middle_m == (pytest.approx(12), pytest.approx(70))
