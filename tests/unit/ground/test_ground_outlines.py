"""Areas in plain numbers: rings open, outline before holes, every piece."""

import numpy as np
import pytest
import shapely

from choreo.ground import build_ground
from choreo.ground.outlines import obstacle_corners, outline_of
from choreo.scenario import load_site
from tests.unit.page.shown import FOLDER

SQUARE = shapely.Polygon([(0, 0), (9, 0), (9, 9), (0, 9)], [[(3, 3), (3, 6), (6, 6), (6, 3)]])


def test_hole_follows_its_outline_and_no_corner_is_repeated() -> None:
    ((outer, hole),) = outline_of(SQUARE).polygons
    assert outer == ((0.0, 0.0), (9.0, 0.0), (9.0, 9.0), (0.0, 9.0))
    assert hole == ((3.0, 3.0), (3.0, 6.0), (6.0, 6.0), (6.0, 3.0))


def test_every_piece_of_an_area_is_given_and_the_place_lies_inside() -> None:
    pieces = shapely.MultiPolygon([SQUARE, shapely.box(20, 0, 30, 5)])
    found = outline_of(pieces)
    areas = [shapely.Polygon(rings[0], rings[1:]).area for rings in found.polygons]
    assert areas == pytest.approx([72.0, 50.0])
    assert pieces.covers(shapely.Point(found.inside_m))


def test_obstacles_of_a_site_are_given_by_their_corners() -> None:
    ground = build_ground(load_site(FOLDER / "sites" / "l-pad.yaml"))
    (hut,) = obstacle_corners(ground)
    assert sorted(map(tuple, hut)) == [(95, 180), (95, 225), (130, 180), (130, 225)]
    assert obstacle_corners(None) == []
    assert hut.dtype == np.float64
