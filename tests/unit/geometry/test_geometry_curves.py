"""Lines, arcs and clothoids: positions, headings, stations."""

import math

import numpy as np
import pyclothoids
import pytest
from scipy.special import fresnel

from choreo.geometry import standing_path
from tests.unit.geometry.made import built, chain, line, piece, surveyed


def test_clothoid_agrees_with_fresnel_integrals_to_a_tenth_of_a_picometre() -> None:
    # Curvature s / A^2 from zero: x = A sqrt(pi) C(s / (A sqrt(pi))), y likewise with S.
    length, end_curvature = 80.0, 1 / 25
    scale = math.sqrt(math.pi * length / end_curvature)
    path = built(
        chain(
            piece(
                "clothoid",
                length_m=length,
                start_curvature_per_m=0.0,
                end_curvature_per_m=end_curvature,
            )
        )
    )
    s = np.linspace(0.0, length, 301)
    sine, cosine = fresnel(s / scale)
    poses = path.pose(s)
    assert np.abs(poses.x_m - scale * cosine).max() < 1e-13
    assert np.abs(poses.y_m - scale * sine).max() < 1e-13
    assert np.abs(poses.heading_rad - s**2 * end_curvature / (2 * length)).max() < 1e-14


@pytest.mark.parametrize(("k0", "k1"), [(0.02, -0.05), (-0.1, -0.01), (1 / 1500, 1 / 9)])
def test_clothoid_between_any_curvatures_agrees_with_another_library(k0: float, k1: float) -> None:
    length = 30.0
    path = built(
        chain(
            piece("clothoid", length_m=length, start_curvature_per_m=k0, end_curvature_per_m=k1),
            start=(3.0, -2.0),
            heading_rad=0.7,
        )
    )
    other = pyclothoids.Clothoid.StandardParams(3.0, -2.0, 0.7, k0, (k1 - k0) / length, length)
    for s in np.linspace(0.0, length, 23):
        pose = path.pose(np.array([s]))
        assert pose.x_m[0] == pytest.approx(other.X(s), abs=1e-12)
        assert pose.y_m[0] == pytest.approx(other.Y(s), abs=1e-12)
        assert pose.heading_rad[0] == pytest.approx(other.Theta(s), abs=1e-13)


def test_arc_to_the_right_ends_on_its_circle() -> None:
    path = built(chain(piece("arc", radius_m=50.0, angle_rad=-math.pi / 2)))
    pose = path.pose(np.array([path.length_m]))
    assert path.length_m == pytest.approx(25 * math.pi, abs=1e-12)
    assert (pose.x_m[0], pose.y_m[0]) == pytest.approx((50.0, -50.0), abs=1e-12)
    assert pose.heading_rad[0] == pytest.approx(-math.pi / 2, abs=1e-15)
    assert pose.curvature_per_m[0] == -1 / 50


def test_heading_of_three_turns_is_not_wrapped() -> None:
    path = built(chain(piece("arc", radius_m=20.0, angle_rad=6 * math.pi)))
    assert path.pose(np.array([path.length_m])).heading_rad[0] == pytest.approx(6 * math.pi)


def test_beyond_both_ends_the_path_goes_on_straight() -> None:
    path = built(chain(piece("arc", radius_m=50.0, angle_rad=math.pi / 2), start=(1.0, 2.0)))
    pose = path.pose(np.array([-10.0, path.length_m + 10.0]))
    assert pose.x_m == pytest.approx([-9.0, 51.0], abs=1e-12)
    assert pose.y_m == pytest.approx([2.0, 62.0], abs=1e-12)
    assert list(pose.curvature_per_m) == [0.0, 0.0]


def test_bend_turns_by_its_total_angle_and_stays_in_its_radius() -> None:
    path = built(
        chain(
            line(10.0),
            piece(
                "bend",
                name="turn",
                radius_m=12.0,
                angle_rad=-1.5,
                clothoid_angle_rad=0.4,
                outer_curvature_per_m=1 / 500,
            ),
        )
    )
    start, end = path.marks["turn"]
    heading = path.pose(np.array([start, end])).heading_rad
    assert heading[1] - heading[0] == pytest.approx(-1.5, abs=1e-13)
    assert min(k for part in path.stretches() for k in part[2:]) == -1 / 12
    assert start == 10.0


def test_bend_by_clothoid_length_equals_bend_by_clothoid_angle() -> None:
    length = 2 * 0.4 / (1 / 12 + 1 / 500)
    by_angle, by_length = (
        built(
            chain(piece("bend", radius_m=12.0, angle_rad=1.5, outer_curvature_per_m=1 / 500, **way))
        )
        for way in ({"clothoid_angle_rad": 0.4}, {"clothoid_length_m": length})
    )
    s = np.linspace(0.0, by_angle.length_m, 50)
    assert np.abs(by_angle.pose(s).x_m - by_length.pose(s).x_m).max() < 1e-12


def test_standing_path_has_its_pose_at_station_zero() -> None:
    path = standing_path(310.0, -3.0, 2.0)
    pose = path.pose(np.array([0.0]))
    assert (pose.x_m[0], pose.y_m[0], pose.heading_rad[0]) == (310.0, -3.0, 2.0)
    assert path.length_m == 1.0


def test_nearest_station_is_found_on_the_path_and_beyond_its_ends() -> None:
    path = built(chain(line(50.0), piece("arc", radius_m=30.0, angle_rad=math.pi / 2), line(20.0)))
    for s in (-25.0, 0.0, 31.7, 60.3, 95.0, path.length_m + 40.0):
        pose = path.pose(np.array([s]))
        x = pose.x_m[0] - 1.3 * np.sin(pose.heading_rad[0])
        y = pose.y_m[0] + 1.3 * np.cos(pose.heading_rad[0])
        assert path.nearest(x, y) == pytest.approx(s, abs=1e-9)


def test_nearest_station_of_a_path_that_comes_back_is_the_one_near_the_hint() -> None:
    hairpin = built(chain(line(60.0), piece("arc", radius_m=5.0, angle_rad=math.pi), line(60.0)))
    back = 60.0 + 5.0 * math.pi + 30.0
    assert hairpin.nearest(30.0, 4.0, near_m=25.0) == pytest.approx(30.0, abs=1e-9)
    assert hairpin.nearest(30.0, 4.0, near_m=back + 9.0) == pytest.approx(back, abs=1e-9)


def test_survey_of_a_circle_has_its_radius_and_length() -> None:
    angles = np.linspace(0.0, 1.2, 40)
    path = built(surveyed(np.stack((80 * np.cos(angles), 80 * np.sin(angles)), axis=1)))
    curvature = path.pose(np.linspace(0.0, path.length_m, 200)).curvature_per_m
    assert path.length_m == pytest.approx(96.0, abs=1e-6)
    assert curvature == pytest.approx(np.full(200, 1 / 80), rel=1e-3)


def test_survey_passes_through_its_points_smoothly() -> None:
    points = np.array([(0, 0), (10, 1), (22, 3), (30, 2), (40, -5), (41, -15)], dtype=float)
    path = built(surveyed(points))
    for x, y in points:
        pose = path.pose(np.array([path.nearest(x, y)]))
        assert math.hypot(pose.x_m[0] - x, pose.y_m[0] - y) < 1e-10
        around = path.pose(path.nearest(x, y) + np.array([-1e-7, 1e-7]))
        inside = 0.0 < path.nearest(x, y) < path.length_m - 1e-6
        assert not inside or abs(np.diff(around.curvature_per_m)[0]) < 1e-6


@pytest.mark.parametrize("count", [2, 3])
def test_survey_of_few_points_is_a_line_or_one_parabola(count: int) -> None:
    points = [(0.0, 0.0), (10.0, 2.0), (20.0, 0.0)][:count]
    path = built(surveyed(points))
    end = path.pose(np.array([path.length_m]))
    assert (end.x_m[0], end.y_m[0]) == pytest.approx(points[-1], abs=1e-12)


def test_stretches_of_chains_are_exact_and_without_gaps() -> None:
    path = built(
        chain(
            line(10.0),
            piece("clothoid", length_m=8.0, start_curvature_per_m=0.0, end_curvature_per_m=0.1),
            piece("arc", radius_m=10.0, angle_rad=0.5),
        )
    )
    parts = path.stretches()
    assert [part[0] for part in parts[1:]] == [part[1] for part in parts[:-1]]
    assert parts == ((0.0, 10.0, 0.0, 0.0), (10.0, 18.0, 0.0, 0.1), (18.0, 23.0, 0.1, 0.1))
