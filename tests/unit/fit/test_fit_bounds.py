"""What the search leans on: bounds over boxes of poses are never too small."""

import math

import numpy as np
import pytest
import shapely
from shapely import LineString, Polygon, box

from choreo.fit.boxes import Boxes, points_as_boxes
from choreo.fit.depths import fit_of, inner
from choreo.fit.field import field_of, region_of
from choreo.fit.rigid import Rigid, own_frame
from choreo.fit.samples import outline_points, reflex_points
from tests.unit.fit.shapes import CROSSING, L_PAD, random_footprint, random_site


def _own(geometry: shapely.Geometry) -> shapely.Geometry:
    return own_frame(geometry).inverse().geometry(geometry)


@pytest.mark.parametrize("seed", range(4))
def test_no_pose_in_a_box_has_more_than_the_bound(seed: int) -> None:
    draws = np.random.default_rng(seed)
    big = seed % 2 == 0
    site = _own(L_PAD if big else random_site(draws))
    fit = fit_of(_own(CROSSING if big else random_footprint(draws)), site)
    left, low, right, high = site.bounds
    count = 300
    size = draws.uniform(0, 0.3, (2, count)) * (right - left) * draws.choice([0.01, 0.1, 1], count)
    boxes = Boxes(
        draws.uniform(left, right, count),
        draws.uniform(low, high, count),
        draws.uniform(-math.pi, math.pi, count),
        size[0],
        size[1],
        draws.uniform(0, 0.8, count) * draws.choice([0.01, 0.1, 1], count),
        np.zeros(count, dtype=np.int32),
    )
    bounds = fit.bounds(boxes, lambda most, _boxes: np.full(len(most), True)).most_m
    for _ in range(10):
        # Corners of boxes as often as places inside.
        share = draws.uniform(-1, 1, (3, count))
        share = np.where(draws.uniform(size=count) < 0.5, np.sign(share), share)
        poses = np.stack(
            (
                boxes.x_m + share[0] * boxes.half_x_m,
                boxes.y_m + share[1] * boxes.half_y_m,
                boxes.angle_rad + share[2] * boxes.half_rad,
            ),
            axis=1,
        )
        depths = np.array([fit.depth_m(Rigid(*map(float, pose))) for pose in poses[::10]])
        assert (depths <= bounds[::10] + 1e-9).all()


def test_raster_never_says_less_than_the_depth() -> None:
    draws = np.random.default_rng(5)
    for sign in (1, -1):
        region = region_of(L_PAD, sign)
        field = field_of(region, 8.0)
        x_m, y_m = draws.uniform(-60, 360, (2, 4000))
        most, _ = field.most_m(x_m, y_m)
        depth = region.depth_m(x_m, y_m)
        assert (most >= depth - 1e-9).all()
        near = np.isfinite(most) & (depth > -8)
        assert (most - depth)[near].max() <= 2 * field.error_m + 1e-6


def test_depth_is_the_signed_distance_to_the_edge() -> None:
    draws = np.random.default_rng(6)
    x_m, y_m = draws.uniform(-50, 350, (2, 500))
    points = shapely.points(x_m, y_m)
    sign = np.where(shapely.contains(L_PAD, points), 1, -1)
    wanted = sign * shapely.distance(L_PAD.boundary, points)
    assert np.allclose(region_of(L_PAD).depth_m(x_m, y_m), wanted, atol=1e-9)
    assert np.allclose(region_of(L_PAD, -1).depth_m(x_m, y_m), -wanted, atol=1e-9)


def test_halves_of_boxes_cover_the_whole() -> None:
    one = Boxes(*(np.array([value]) for value in (1.0, 2.0, 0.3, 4.0, 2.0, 0.2)), np.array([7]))
    for axis, half in ((0, 4.0), (1, 2.0), (2, 0.2)):
        halves = one.halves(np.array([axis]))
        middles = (halves.x_m, halves.y_m, halves.angle_rad)[axis]
        widths = (halves.half_x_m, halves.half_y_m, halves.half_rad)[axis]
        middle = (1.0, 2.0, 0.3)[axis]
        assert (middles - widths).min() == pytest.approx(middle - half)
        assert (middles + widths).max() == pytest.approx(middle + half)
        assert middles[0] + widths[0] == pytest.approx(middles[1] - widths[1])
        assert list(halves.group) == [7, 7]


def test_sample_points_belong_to_the_footprint_and_the_corners_to_the_edge() -> None:
    points = shapely.points(outline_points(CROSSING))
    assert (shapely.distance(CROSSING.boundary, points) < 1e-9).all()
    # What is left out lies near the chords between those that are kept.
    kept, whole = shapely.convex_hull(shapely.multipoints(points)), shapely.convex_hull(CROSSING)
    assert shapely.hausdorff_distance(kept, whole) < 0.1
    corners = reflex_points(L_PAD)
    assert (shapely.distance(L_PAD.boundary, shapely.points(corners)) < 1e-9).all()
    reflex = {(120.0, 120.0), (40.0, 40.0), (60.0, 40.0), (60.0, 70.0), (40.0, 70.0)}
    assert reflex <= {(float(x), float(y)) for x, y in corners}
    assert (0.0, 0.0) not in {(float(x), float(y)) for x, y in corners}


def test_convex_site_has_no_reflex_corners() -> None:
    assert len(reflex_points(box(0, 0, 10, 5))) == 0


def test_motions_undo_and_chain() -> None:
    first, then = Rigid(3.0, -2.0, 0.7), Rigid(-1.0, 5.0, 2.0)
    points = np.array([[1.0, 2.0], [-3.0, 0.5]])
    assert np.allclose(then.after(first).apply(points), then.apply(first.apply(points)))
    assert np.allclose(first.inverse().apply(first.apply(points)), points)


def test_poses_as_boxes_have_no_size() -> None:
    boxes = points_as_boxes(np.array([[1.0, 2.0, 0.5]]), 3)
    assert float(boxes.reach_m(100.0)[0]) == 0.0
    assert list(boxes.group) == [3]


def test_simpler_footprint_lies_inside_and_reaches_as_far_within_5_cm() -> None:
    turn = LineString([(0, 0), (60, 0), (60, 45)]).buffer(1.0, quad_segs=2)
    round_one = shapely.buffer(shapely.Point(0, 0), 30, quad_segs=400)
    for shape in (shapely.union(round_one.boundary.buffer(1.2, quad_segs=400), turn), CROSSING):
        simple = inner(shape)
        assert shape.covers(simple)
        assert simple.buffer(0.05).covers(shape)
        assert len(shapely.get_coordinates(simple)) <= len(shapely.get_coordinates(shape))
        # Holes are kept: what stands in them is not in the way.
        assert sum(len(one.interiors) for one in shapely.get_parts(simple)) == sum(
            len(one.interiors) for one in shapely.get_parts(shape)
        )


def test_side_written_in_parts_bounds_as_one() -> None:
    # The middle corner is off the line by a rounding of the last millimetre.
    site = region_of(Polygon([(0, 0), (50, 0.0004), (100, 0), (100, 40), (0, 40)]))
    assert site.edges.outer.all()
