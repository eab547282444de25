"""Cracks between areas that were rounded when written are closed; all else stays as drawn."""

import math
import random
from pathlib import Path

import pytest
import shapely
from shapely import Polygon, affinity, box
from shapely.geometry.base import BaseGeometry

from choreo.ground.seams import united
from tests.unit.ground.sites import ground

PAD = box(0, 0, 100, 60)


def rounded(polygon: Polygon, digits: int) -> Polygon:
    return Polygon([(round(x, digits), round(y, digits)) for x, y in polygon.exterior.coords])


def three_at_a_joint(turn_deg: float, digits: int) -> list[Polygon]:
    """One pad as three areas: a joint of two of them ends within a side of the third."""
    parts = [box(0, 0, 100, 60), box(100, 0, 200, 30), box(100, 30, 200, 60)]
    return [rounded(affinity.rotate(part, turn_deg, origin=(0, 0)), digits) for part in parts]


def added_to(parts: list[Polygon]) -> BaseGeometry:
    """What the closing adds, without the noise of edges that got another corner."""
    return united(parts).difference(shapely.union_all(parts).buffer(1e-7, join_style="mitre"))


@pytest.mark.parametrize("digits", [2, 3, 6, 12])
@pytest.mark.parametrize("turn_deg", [0, 33.3, 45, 61.7, 88.9, 123.4])
def test_pad_drawn_as_three_areas_with_rounded_corners_is_one_without_cracks(
    turn_deg: float, digits: int
) -> None:
    whole = united(three_at_a_joint(turn_deg, digits))
    assert isinstance(whole, Polygon)
    assert len(whole.interiors) == 0
    # What lies deeper than the corners were rounded is drivable.
    inside = affinity.rotate(box(0, 0, 200, 60), turn_deg, origin=(0, 0)).buffer(-0.02)
    assert whole.covers(inside)


def test_no_speck_of_a_hole_is_left_where_many_areas_meet() -> None:
    draw = random.Random(1)
    for _ in range(400):
        lower_m, digits, turn_deg = (
            draw.uniform(5, 55),
            draw.choice([2, 4, 9]),
            draw.uniform(0, 360),
        )
        parts = [
            box(0, 0, 100, draw.uniform(5, 55)),
            box(100, 0, 200, lower_m),
            box(100, lower_m, 200, 60),
        ]
        parts.append(box(0, parts[0].bounds[3], 100, 60))
        aside_m = draw.uniform(-500, 500)
        turned = [
            rounded(affinity.rotate(affinity.translate(part, aside_m), turn_deg, (0, 0)), digits)
            for part in parts
        ]
        whole = united(turned)
        assert isinstance(whole, Polygon)
        assert len(whole.interiors) == 0


@pytest.mark.parametrize("gap_m", [1e-9, 0.001, 0.01, 0.02])
def test_gap_up_to_two_centimetres_is_closed_between_the_areas_only(gap_m: float) -> None:
    whole = united([box(0, 0, 50, 10), box(50 + gap_m, 0, 90, 10)])
    wanted = box(0, 0, 90, 10)
    assert whole.symmetric_difference(wanted).area < 1e-6
    assert shapely.hausdorff_distance(whole.boundary, wanted.boundary) < 1e-6
    assert wanted.buffer(1e-6).covers(whole)


@pytest.mark.parametrize("gap_m", [0.021, 0.03, 0.05])
def test_areas_farther_apart_stay_apart(gap_m: float) -> None:
    parts = [box(0, 0, 50, 10), box(50 + gap_m, 0, 90, 10)]
    assert united(parts).equals(shapely.union_all(parts))


def test_spike_that_points_at_another_area_does_not_reach_it() -> None:
    spike = Polygon([(0, -0.4), (5, 0), (0, 0.4)])
    for gap_m in (0.021, 0.05):
        parts = [spike, box(5 + gap_m, -5, 9, 5)]
        assert united(parts).symmetric_difference(shapely.union_all(parts)).area < 1e-9


@pytest.mark.parametrize("turn_deg", [0.0, 33.3])
def test_outer_boundary_stays_where_it_was_at_sharp_corners_and_steps(turn_deg: float) -> None:
    parts = [
        Polygon([(0, 0), (40, 0), (40, 20), (-60, 1)]),
        box(40.004, 0, 60, 12),
        Polygon([(60, -3), (61, 30), (90, -3)]),
    ]
    turned = [affinity.rotate(part, turn_deg, origin=(0, 0)) for part in parts]
    added = added_to(turned)
    crack = box(40, 0, 40.004, 12).union(Polygon([(60, 0), (60.4, 12), (60, 12)]))
    crack = affinity.rotate(crack, turn_deg, origin=(0, 0))
    assert crack.buffer(1e-6).covers(added)


def test_ways_between_areas_that_part_slowly_are_closed_to_two_centimetres_only() -> None:
    opening_deg = 2.0
    upper = affinity.rotate(box(0, 0, 50, 10), opening_deg, origin=(0, 0))
    added = added_to([box(0, -10, 50, 0), upper])
    longest_m = 0.0205 / math.radians(opening_deg)
    assert box(-0.001, -0.001, longest_m, 0.021).covers(added)
    assert added.area > 0


@pytest.mark.parametrize("apart_m", [0.0, 0.01, 5.0])
def test_holes_that_an_area_has_on_purpose_stay_however_narrow(apart_m: float) -> None:
    gutter = box(49 - apart_m, 5, 49.01 - apart_m, 55)
    beside = box(100.003, 0, 120, 60)
    over = box(40, 58, 60, 80)
    slit = box(99.985, 10, 99.995, 50)
    pad = PAD.difference(gutter).difference(slit)
    whole = united([pad, beside, over])
    for hole in (gutter, slit):
        assert whole.intersection(hole.buffer(-1e-4)).area == pytest.approx(0, abs=1e-9)
    assert whole.covers(box(99.999, 10, 100.01, 50))


def test_plate_laid_into_a_hole_closes_it() -> None:
    hole, plate = box(20, 20, 30, 30), box(20.004, 20.004, 29.996, 29.996)
    whole = united([PAD.difference(hole), plate])
    assert whole.symmetric_difference(PAD).area < 1e-6


def test_area_alone_is_unchanged_with_every_notch() -> None:
    comb = PAD.difference(box(50, 10, 50.005, 60)).difference(box(20, 20, 20.01, 30))
    assert united([comb]).equals_exact(comb, 0)
    far = box(300, 0, 310, 10)
    assert united([comb, far]).equals(shapely.union_all([comb, far]))


def test_obstacles_are_cut_after_cracks_are_closed(tmp_path: Path) -> None:
    text = """\
choreo site: 1
title: cracked
areas:
  left: {outline: [[0 m, 0 m], [50 m, 0 m], [50 m, 10 m], [0 m, 10 m]]}
  right: {outline: [[50.008 m, 0 m], [90 m, 0 m], [90 m, 10 m], [50.008 m, 10 m]]}
obstacles:
  pole: {outline: [[50 m, 4 m], [50.008 m, 4 m], [50.008 m, 4.01 m], [50 m, 4.01 m]]}
"""
    drivable = ground(tmp_path, text).drivable
    assert drivable.area == pytest.approx(900 - 0.008 * 0.01, abs=1e-6)
    assert not drivable.covers(shapely.Point(50.004, 4.005))
    assert drivable.covers(shapely.Point(50.004, 5.0))
