"""The search for a pose: known answers, brute force, proofs, groups."""

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import shapely
from shapely import LineString, Polygon, box

from choreo.fit.depths import exact_margin_m
from choreo.fit.directions import Arc, arc_of
from choreo.fit.location import Located, locate
from choreo.fit.rigid import Rigid
from tests.unit.fit.shapes import (
    CROSSING,
    L_PAD,
    STRIP,
    brute_force_m,
    random_footprint,
    random_site,
    request,
)


@cache
def on_the_pad() -> Located:
    """A lane with a belt across it, placed on the L-shaped pad with a building."""
    return locate(request(CROSSING, L_PAD))


def test_rectangle_in_a_rectangle_has_the_known_margin() -> None:
    located = locate(request(box(5, 5, 605, 17), STRIP))
    assert located.verdict == "found"
    best = located.spots[0]
    assert best.margin_m == pytest.approx(24.0, abs=0.005)
    assert located.outcome.bound_m == pytest.approx(24.0, abs=0.11)
    # Both ways along the strip, and nothing else.
    assert {spot.sector for spot in located.spots} == {0, 4}


def test_best_pose_of_a_strip_is_parallel_to_it_and_in_its_middle() -> None:
    best = locate(request(box(5, 5, 605, 17), STRIP)).spots[0]
    assert abs(math.sin(best.pose.angle_rad)) < 1e-6
    placed = best.pose.geometry(box(5, 5, 605, 17))
    assert shapely.centroid(placed).x == pytest.approx(490.0, abs=5.0)
    assert shapely.centroid(placed).y == pytest.approx(0.0, abs=0.01)


def test_told_margin_is_the_exact_one_of_the_told_pose() -> None:
    spots = on_the_pad().spots
    assert spots
    for spot in spots:
        exact = exact_margin_m(L_PAD, spot.pose.geometry(CROSSING))
        assert spot.margin_m == pytest.approx(exact, abs=1e-9)
        assert L_PAD.covers(spot.pose.geometry(CROSSING))


@pytest.mark.parametrize("seed", range(5))
def test_search_agrees_with_brute_force_on_random_sites(seed: int) -> None:
    draws = np.random.default_rng(seed)
    site, footprint = random_site(draws), random_footprint(draws)
    by_force_m = brute_force_m(footprint, site, 0.8, 6.0)
    located = locate(request(footprint, site))
    assert located.outcome.bound_m >= by_force_m or by_force_m == -math.inf
    if located.verdict != "found":
        assert by_force_m == -math.inf
        return
    margin_m = located.spots[0].margin_m
    assert margin_m >= by_force_m - 0.1
    assert margin_m <= located.outcome.bound_m <= margin_m + 0.15


def test_too_long_strip_is_proven_to_have_no_place() -> None:
    located = locate(request(box(0, 0, 1100, 12), STRIP))
    assert located.verdict == "none"
    assert located.outcome.bound_m < 0


def test_footprint_wider_than_the_strip_by_20_cm_is_proven_not_to_fit() -> None:
    assert locate(request(box(0, 0, 600, 60.2), STRIP)).verdict == "none"


def test_footprint_narrower_than_the_strip_by_40_cm_is_found_to_fit() -> None:
    best = locate(request(box(0, 0, 600, 59.6), STRIP)).spots[0]
    assert best.margin_m == pytest.approx(0.2, abs=0.01)


def test_footprint_as_wide_as_the_strip_is_never_said_to_be_impossible() -> None:
    located = locate(request(box(0, 0, 190, 60), box(0, 0, 200, 60)))
    assert located.verdict in {"found", "undecided"}
    assert located.outcome.bound_m >= 0


def test_building_on_the_pad_is_kept_clear_of() -> None:
    located = on_the_pad()
    filled = locate(request(CROSSING, Polygon(L_PAD.exterior)))
    assert located.spots[0].margin_m < filled.outcome.bound_m
    assert len(located.spots) == 8


def test_small_obstacle_inside_the_footprint_does_not_pass_for_room() -> None:
    site = box(0, 0, 40, 30).difference(box(19.8, 14.8, 20.2, 15.2))
    located = locate(request(box(0, 0, 36, 26), site))
    assert located.verdict != "found"


def test_footprint_round_a_hole_of_its_own_may_hold_an_obstacle() -> None:
    ring = box(0, 0, 30, 20).difference(box(5, 5, 25, 15))
    site = box(0, 0, 40, 30).difference(box(18, 13, 22, 17))
    best = locate(request(ring, site)).spots[0]
    assert best.margin_m == pytest.approx(3.0, abs=0.1)


def test_excluded_directions_are_not_travelled() -> None:
    east_and_more = (Arc(0.0, math.radians(100)),)
    located = locate(request(box(0, 0, 600, 12), STRIP, excluded=east_and_more))
    assert [spot.sector for spot in located.spots] == [4]
    heading = math.degrees(located.spots[0].pose.angle_rad)
    assert abs(math.remainder(heading - 180, 360)) < 80


def test_directions_are_those_of_the_subject_not_of_the_frame() -> None:
    away = (Arc(0.0, math.radians(100)),)
    backwards = request(box(0, 0, 600, 12), STRIP, excluded=away, heading_rad=math.pi)
    located = locate(backwards)
    assert located.spots[0].sector == 4
    assert abs(math.remainder(located.spots[0].pose.angle_rad, 2 * math.pi)) < math.radians(5)


def test_excluding_the_only_directions_that_fit_leaves_none() -> None:
    excluded = (arc_of("0 deg +/- 30 deg", "x"), arc_of("180 deg +/- 30 deg", "x"))
    assert locate(request(box(0, 0, 600, 12), STRIP, excluded=excluded)).verdict == "none"


def test_margin_asked_for_decides_between_found_and_none() -> None:
    wide = request(box(0, 0, 600, 12), STRIP, least_margin_m=23.5)
    assert locate(wide).verdict == "found"
    assert locate(replace(wide, least_margin_m=24.5)).verdict == "none"


def test_every_area_gets_its_best_place() -> None:
    first, then = box(0, 0, 400, 40), box(500, 0, 900, 60)
    one = request(CROSSING, shapely.union_all([first, then]))
    located = locate(replace(one, areas=(("short", first), ("wide", then))))
    by_area = {}
    for spot in located.spots:
        by_area.setdefault(spot.area, spot.margin_m)
    assert by_area["wide"] > by_area["short"] > 0
    assert located.spots[0].area == "wide"
    alone = locate(request(CROSSING, first))
    assert by_area["short"] >= alone.outcome.bound_m - 1.0


@pytest.mark.parametrize("turn_deg", [17.0, 211.0])
def test_turning_the_site_turns_the_answer(turn_deg: float) -> None:
    turn = Rigid(250.0, -40.0, math.radians(turn_deg))
    turned = locate(request(CROSSING, turn.geometry(L_PAD))).spots[0]
    assert turned.margin_m == pytest.approx(on_the_pad().spots[0].margin_m, abs=0.15)
    back = turn.inverse().after(turned.pose)
    margin_m = exact_margin_m(L_PAD, back.geometry(CROSSING))
    assert margin_m == pytest.approx(turned.margin_m, abs=1e-6)


def test_footprint_in_parts_is_placed_as_one() -> None:
    parts = shapely.union_all([box(0, 0, 10, 19), box(89, 0, 99, 19)])
    site = shapely.union_all([box(0, 0, 20, 20), box(80, 0, 100, 20)])
    best = locate(request(parts, site)).spots[0]
    assert best.margin_m == pytest.approx(0.5, abs=0.02)
    longer = shapely.union_all([box(0, 0, 10, 19), box(92, 0, 102, 19)])
    assert locate(request(longer, site)).verdict == "none"


def test_circular_pad_takes_a_lane_in_every_direction() -> None:
    pad = shapely.Point(0, 0).buffer(150, quad_segs=12)
    located = locate(request(LineString([(0, 0), (100, 0)]).buffer(4), pad))
    assert {spot.sector for spot in located.spots} == set(range(8))
    assert located.spots[0].margin_m == pytest.approx(math.cos(math.pi / 48) * 150 - 54, abs=0.5)


def test_site_of_many_adjoining_areas_is_searched_as_one() -> None:
    areas = tuple((f"a{n}", box(20 * n, 0, 20 * n + 20, 40)) for n in range(12))
    one = request(box(0, 0, 150, 10), shapely.union_all([area for _, area in areas]))
    located = locate(replace(one, areas=areas))
    assert located.spots[0].margin_m == pytest.approx(15.0, abs=0.01)
    assert located.outcome.bound_m == pytest.approx(15.0, abs=0.11)
    # Beyond the largest ones areas are not told apart.
    assert located.alternatives_m is None
    for spot in located.spots:
        place = shapely.Point(spot.pose.point(*one.reference_m))
        assert dict(areas)[spot.area].distance(place) < 1e-6


def test_no_area_and_direction_has_a_much_better_pose_than_told() -> None:
    first, then = box(0, 0, 400, 40), box(500, 0, 900, 60)
    one = request(CROSSING, shapely.union_all([first, then]))
    located = locate(replace(one, areas=(("short", first), ("wide", then))))
    gap_m = located.alternatives_m
    assert gap_m is not None
    assert gap_m <= 2.0
    for name, area in (("short", first), ("wide", then)):
        alone = locate(request(CROSSING, area))
        told = max(spot.margin_m for spot in located.spots if spot.area == name)
        assert alone.spots[0].margin_m <= told + gap_m
