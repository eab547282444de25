"""Paths with changes of direction: the body doesn't turn there, the motion does."""

import math

import numpy as np
import pytest

from choreo.geometry import build_paths, cusps_of, last_leg_m, motion_headings, ways_along
from choreo.words import ChoreoError
from tests.unit.geometry.made import beside, built, chain, line, piece

# Out 10 m to the east, back through a left bend of the motion (a quarter, radius 4 m), out again 5 m.
THREE = chain(
    line(10.0, name="out"),
    piece("arc", radius_m=4.0, angle_rad=math.pi / 2, backwards=True),
    line(5.0),
    start=(3.0, 2.0),
)
QUARTER_M = 2.0 * math.pi


def test_heading_goes_on_where_the_motion_turns_back() -> None:
    path = built(THREE)
    assert cusps_of(path) == pytest.approx((10.0, 10.0 + QUARTER_M))
    assert last_leg_m(path) == pytest.approx(10.0 + QUARTER_M)
    ends = np.array([0.0, 10.0, 10.0 + QUARTER_M, 15.0 + QUARTER_M])
    at = path.pose(ends)
    # West and round to the south; the body, which pointed east, points north then, and goes there.
    assert at.x_m == pytest.approx([3.0, 13.0, 9.0, 9.0])
    assert at.y_m == pytest.approx([2.0, 2.0, -2.0, 3.0])
    assert np.diff(at.heading_rad) == pytest.approx([0.0, math.pi / 2, 0.0])
    assert np.sin(at.heading_rad) == pytest.approx([0.0, 0.0, 1.0, 1.0], abs=1e-12)
    middles = np.array([5.0, 13.0, 11.0 + QUARTER_M])
    assert ways_along(path, middles) == pytest.approx([1.0, -1.0, 1.0])
    step = path.pose(middles + 1e-6).x_m - path.pose(middles).x_m
    assert step == pytest.approx(1e-6 * np.cos(motion_headings(path, middles)), abs=1e-9)


def test_no_step_between_stations_is_longer_than_the_way() -> None:
    path = built(THREE)
    stations = np.linspace(-3.0, path.length_m + 3.0, 4001)
    at = path.pose(stations)
    steps = np.hypot(np.diff(at.x_m), np.diff(at.y_m))
    assert steps.max() <= np.diff(stations).max() * (1.0 + 1e-9)
    assert np.abs(np.diff(at.heading_rad)).max() <= np.diff(stations).max() / 4.0 * (1.0 + 1e-9)


def test_nearest_is_on_the_last_leg() -> None:
    assert built(THREE).nearest(9.5, 1.0) == pytest.approx(13.0 + QUARTER_M)


def test_a_piece_says_where_it_begins_after_a_change_of_direction_too() -> None:
    last = line(5.0, at_m=(9.0, -2.0))
    assert built(chain(*THREE.pieces[:2], last, start=(3.0, 2.0))).length_m > 20.0
    off = chain(*THREE.pieces[:2], line(5.0, at_m=(9.0, 2.0)), start=(3.0, 2.0))
    with pytest.raises(ChoreoError) as caught:
        build_paths({"bay": off, "kerb": beside("bay", 1.0)})
    assert {one.code for one in caught.value.findings} == {"geometry.pieces-apart"}
