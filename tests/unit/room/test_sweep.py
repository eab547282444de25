"""What is swept: nothing that a mover can reach lies outside, and not much more lies inside."""

import math

import numpy as np
import pytest
import shapely

from choreo.geometry import CurvePath
from choreo.geometry.cusps import CuspPath
from choreo.ground.stop import Stop
from choreo.room.keep_out import keep_out_of, polygons_of, widened
from choreo.room.sweep import along, swept
from tests.unit.track.tracks_by_hand import bodies, random_track, stations, straight, track

# Room for rounding in the union of many hulls.
SLACK_M = 1e-4
STOP = Stop(5.0, 0.6, False)


def test_every_stop_from_any_instant_lies_in_what_is_swept() -> None:
    random = np.random.default_rng(7)
    for _ in range(60):
        one = random_track(random)
        if not one.moves:
            continue
        area = swept(one, STOP)
        held = area.with_stops.buffer(SLACK_M)
        shapely.prepare(held)
        times = random.uniform(0.0, one.end_s, 40)
        assert shapely.covers(area.planned.buffer(SLACK_M), bodies(one, stations(one, times))).all()
        for at in times:
            begin = at + STOP.reaction_s
            here, soon, then, after = stations(one, np.array([at, at + 1e-5, begin, begin + 1e-5]))
            now, speed = (soon - here) / 1e-5, (after - then) / 1e-5
            as_planned = then - here + speed**2 / (2 * STOP.brake_mps2)
            way = max(as_planned, now * STOP.reaction_s + now**2 / (2 * STOP.brake_mps2))
            gone = np.linspace(0.0, way - 2e-3, 9) if way > 2e-3 else np.zeros(1)
            assert shapely.covers(held, bodies(one, here + gone)).all()
            ring = shapely.get_coordinates(bodies(one, np.array([here]))[0])
            heading = one.path.pose(np.array([here])).heading_rad[0]
            ahead = np.array([math.cos(heading), math.sin(heading)])
            moved = shapely.polygons(ring + gone[:, None, None] * ahead)
            assert shapely.covers(held, moved).all()


def test_stops_run_straight_on_beyond_a_change_of_direction() -> None:
    legs = [CurvePath([(30.0, 0.0, 0.0)]), CurvePath([(50.0, 0.0, 0.0)], (30.0, 0.0), math.pi)]
    driven = [(2.0, 0.0, 0.0), (2.0, -5.0, 0.0)]
    turning = swept(track(CuspPath(legs, {}), driven, start_mps=10.0), STOP).with_stops
    ahead = swept(track(straight(30.0), driven, start_mps=10.0), STOP).with_stops
    # On the first leg the rear leads: the body is that of the straight run, turned round.
    assert turning.bounds[2] == pytest.approx(ahead.bounds[2] + 0.9 - 3.4, abs=1e-6)


def test_swept_way_on_a_straight_is_a_rectangle() -> None:
    one = track(straight(100.0), [(2.0, 0.0, 0.0), (2.0, -5.0, 0.0)], start_mps=10.0)
    # 20 m at speed, 10 m of braking; the body reaches 0.9 m behind and 3.4 m ahead.
    assert swept(one, STOP).planned.area == pytest.approx((30.0 + 4.3) * 1.8, rel=1e-9)
    # The farthest stop begins where the braking by plan does: at 20 m, 6 m of reaction at speed, 10 m of braking.
    assert swept(one, STOP).with_stops.bounds[2] == pytest.approx(39.4, abs=0.02)


def test_swept_ring_on_a_circle_is_hardly_larger_than_the_true_one() -> None:
    radius = 30.0
    circle = CurvePath([(2 * math.pi * radius, 1 / radius, 1 / radius)])
    one = track(circle, [(1.0, 0.0, 0.0)], start_mps=1.0)
    ring = along(one, 0.0, 2 * math.pi * radius)
    inner, outer = radius - 0.9, math.hypot(radius + 0.9, 3.4)
    true = math.pi * (outer**2 - inner**2)
    # A hull of two bodies fills the dent between their inner sides: about a centimetre here.
    assert true <= ring.area <= 1.01 * true


def test_zone_keeps_margin_and_errors_from_everything_swept() -> None:
    one = random_track(np.random.default_rng(3))
    area = swept(one, STOP).with_stops
    zone = keep_out_of([area], 0.18, 10.0)
    rings = [shapely.Polygon(rings[0], rings[1:]) for rings in zone.polygons]
    together = shapely.union_all(rings)
    assert together.is_valid
    assert together.covers(area)
    assert together.boundary.distance(area) >= 10.18
    assert together.boundary.hausdorff_distance(area.boundary) < 10.18 * 1.05 + 30.0
    assert zone.area_m2 == pytest.approx(together.area, rel=1e-4)


def test_widening_never_cuts_a_round_corner() -> None:
    point = shapely.Point(0.0, 0.0).buffer(1e-9)
    assert widened(point, 10.0).boundary.distance(point) >= 10.0
    assert widened(point, 10.0).area < 1.02 * math.pi * 100.0


def test_rings_are_closed_and_run_as_geojson_wants_them() -> None:
    ring = shapely.Point(0.0, 0.0).buffer(10.0).difference(shapely.Point(0.0, 0.0).buffer(5.0))
    (polygon,) = polygons_of(ring)
    outer, hole = (shapely.LinearRing(one) for one in polygon)
    assert polygon[0][0] == polygon[0][-1]
    assert outer.is_ccw
    assert not hole.is_ccw


def test_a_zone_has_no_hole_that_nobody_can_stand_in() -> None:
    square = shapely.box(0.0, 0.0, 60.0, 60.0)
    # Widened by a metre, what is left of the first is a hair of 40 m, of the second room for a post.
    hair, post = shapely.box(10.0, 10.0, 50.0, 12.02), shapely.box(10.0, 30.0, 50.0, 34.0)
    zone = keep_out_of([square.difference(hair).difference(post)], 0.0, 1.0)
    (rings,) = zone.polygons
    assert len(rings) == 2
    (y_m,) = {round(y, 0) for _, y in rings[1][:1]}
    assert 30.0 < y_m < 34.0
    assert zone.area_m2 == pytest.approx(shapely.Polygon(rings[0], rings[1:]).area, abs=0.1)
