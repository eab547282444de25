"""The line driven through a course: its body inside the lanes, no line gentler than the bound."""

from itertools import pairwise

import numpy as np
import pytest

from choreo.courses import Course, Lane, Sizes, lay_out
from choreo.courses.forms import two_arcs_per_m
from choreo.geometry import CurvePath
from choreo.solve import DrivenLine, Line, Shape, least_curvature_per_m

CAR = Shape(3.40, 0.90, 0.925)


def corners(line: Line, shape: Shape) -> np.ndarray:
    """The body's corners every 5 cm of the line as a path of clothoids; shape (n, 4, 2), course frame."""
    knots = zip(line.knots_m.tolist(), line.curvatures.tolist(), strict=True)
    stretches = [(end - begin, a, b) for (begin, a), (end, b) in pairwise(knots)]
    path = CurvePath(stretches, (line.begin_m, 0.0), 0.0)
    poses = path.pose(np.arange(0.0, path.length_m, 0.05))
    cos, sin = np.cos(poses.heading_rad), np.sin(poses.heading_rad)
    ends = [(shape.front_m, 1), (shape.front_m, -1), (-shape.rear_m, 1), (-shape.rear_m, -1)]
    return np.stack(
        [
            np.stack(
                (
                    poses.x_m + a * cos - side * shape.half_m * sin,
                    poses.y_m + a * sin + side * shape.half_m * cos,
                ),
                axis=1,
            )
            for a, side in ends
        ],
        axis=1,
    )


def test_body_stays_in_the_lanes_by_the_margin_and_the_bound_is_near() -> None:
    sizes = Sizes(vehicle_width_m=1.85, last_width_m=3.0, line="least lateral acceleration")
    course = lay_out("ISO 3888-2", sizes).course
    line = DrivenLine(course, CAR).found()
    assert line.missed_m < 1e-3
    found = corners(line, CAR)
    assert len(course.lanes) == 3
    for lane in course.lanes:
        inside = (found[..., 0] >= lane.from_m) & (found[..., 0] <= lane.to_m)
        assert inside.any()
        y = found[..., 1][inside]
        assert y.min() >= lane.right_m + course.margin_m - 1e-4
        assert y.max() <= lane.left_m - course.margin_m + 1e-4
    least = least_curvature_per_m(course, CAR, line.most_per_m)
    assert least is not None
    # 0.2 % of the speed is 0.4 % of it.
    assert 0.996 * line.most_per_m < least <= line.most_per_m
    # Lines that are gentler than the bound are none: the same rows have no solution.
    assert least_curvature_per_m(course, CAR, 0.999 * least) is None


def test_bound_of_a_point_from_lane_to_lane_is_that_of_two_arcs() -> None:
    # No room inside the lanes, hardly a body: from y 0 to y 3 over 30 m, two equal arcs are the best there is.
    point = Shape(0.01, 0.01, 0.001)
    lanes = (
        Lane("section1", 0.0, 15.0, -0.0011, 0.0011),
        Lane("section3", 45.0, 60.0, 2.9989, 3.0011),
    )
    course = Course("two lanes", lanes=lanes, line="least lateral acceleration")
    best = two_arcs_per_m(3.0, 30.0)
    least = least_curvature_per_m(course, point, 1.002 * best)
    assert least is not None
    assert 0.96 * best < least < best * (1.0 + 1e-6)


def test_nothing_has_to_bend_in_a_lane_that_is_straight() -> None:
    lanes = (Lane("section1", 0.0, 30.0, -1.2, 1.2),)
    course = Course("lane", lanes=lanes, line="least lateral acceleration")
    assert DrivenLine(course, CAR).found().most_per_m < 1e-6
    assert least_curvature_per_m(course, CAR, 0.1) == pytest.approx(0.0, abs=1e-9)


def test_least_jerk_changes_curvature_more_slowly() -> None:
    found = {}
    for line in ("least lateral acceleration", "least jerk"):
        sizes = Sizes(spacing_m=18.0, count=3, aside_m=1.0, line=line)
        course = lay_out("slalom", sizes).course
        found[line] = DrivenLine(course, CAR).found()
        # Where nothing but cones says where to, it ends on their axis, and keeps its margin beside all of them.
        behind = corners(found[line], CAR)[-1]
        assert behind[:, 1] == pytest.approx([0.925, -0.925, 0.925, -0.925], abs=0.005)
        assert found[line].missed_m < 1e-3
    changes = {key: float(np.abs(np.diff(one.curvatures)).max()) for key, one in found.items()}
    assert changes["least jerk"] < changes["least lateral acceleration"] / 2
    assert found["least jerk"].most_per_m > found["least lateral acceleration"].most_per_m
