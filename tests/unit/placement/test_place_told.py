"""What is told of a place: names of edges, the picture, verdicts in words, tidier poses."""

import json
import math
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import shapely
from shapely import box
from shapely.geometry.base import BaseGeometry

from choreo.fit.depths import exact_margin_m
from choreo.fit.rigid import Rigid
from choreo.fit.settle import settled
from choreo.ground import Area, Ground
from choreo.placement.content import content_of_placement
from choreo.placement.described import edge_words, least_room
from choreo.placement.document import placement_text
from choreo.placement.footprint import Footprint, Options, footprint_for, place
from choreo.placement.picture import placement_picture
from choreo.placement.record import Placement, Resolution
from choreo.scenario import load
from choreo.scenario.records.site import AnchorSpec
from choreo.words import ChoreoError, Origin

FILE = Path(__file__).parents[3] / "scenarios" / "walker-nearside.yaml"
HUT = box(60, 30, 66, 36)


def ground(**areas: BaseGeometry) -> Ground:
    """A site of some areas with a hut on it and no anchor."""
    made = tuple(Area(name, polygon, None, 0.0, 0.0) for name, polygon in areas.items())
    drivable = shapely.union_all(list(areas.values())).difference(HUT)
    return Ground("Invented pad", made, {"hut": HUT}, drivable, None)


PAD = ground(pad=box(0, 0, 300, 80).difference(box(200, 30, 210, 40)))


@cache
def walker() -> Footprint:
    """What the walker's scenario sweeps on level ground."""
    return footprint_for(load(FILE))


@cache
def on_pad() -> Placement:
    return place(load(FILE), PAD, staged=walker())


def test_edges_are_named_after_what_makes_them() -> None:
    assert edge_words(PAD, 60, 33) == "obstacle hut"
    assert edge_words(PAD, 205, 30) == "the hole in pad"
    assert edge_words(PAD, 300, 10) == "the edge of pad"
    nearest = least_room(PAD, box(67, 31, 80, 35))
    assert (nearest.x_m, nearest.what) == (66, "obstacle hut")


def test_holes_are_counted_where_there_are_several() -> None:
    holed = box(0, 0, 300, 80).difference(
        shapely.union_all([box(100, 10, 110, 20), box(200, 30, 210, 40)])
    )
    names = {edge_words(ground(pad=holed), x, y) for x, y in ((105, 10), (205, 30))}
    assert names == {"hole 1 of pad", "hole 2 of pad"}


def test_place_stays_clear_of_hut_and_hole_by_the_told_margin() -> None:
    placement = on_pad()
    assert placement.verdict == "found"
    assert placement.best is not None
    swept = shapely.Polygon(placement.footprint_polygons_m[0][0])
    assert swept.distance(HUT) >= placement.best.margin_m - 1e-3
    assert swept.distance(box(200, 30, 210, 40)) >= placement.best.margin_m - 1e-3
    assert placement.best.bearing_deg is None
    assert placement.best.starts["subject"].longitude_deg is None


def test_picture_shows_site_obstacle_footprint_and_marks() -> None:
    drawing = placement_picture(on_pad(), PAD, 80)
    assert max(len(line) for line in drawing) <= 80
    text = "\n".join(drawing)
    assert "y up" in text
    for sign in (".", "#", "+", "S", "W"):
        assert sign in text
    assert "# obstacle" in text
    assert "S start of subject" in text


def test_picture_of_a_site_without_place_draws_the_site_alone() -> None:
    nothing = replace(on_pad(), verdict="none", best=None, footprint_polygons_m=())
    text = "\n".join(placement_picture(nothing, PAD, 60))
    assert "." in text
    assert "+" not in text


def test_undecided_says_down_to_which_resolution() -> None:
    left = Resolution(0.02, 0.01, 0.04, 0.02, 1000, False)
    answer = replace(on_pad(), verdict="undecided", best=None, resolution=left)
    content = content_of_placement(answer)
    assert content.headline == "UNDECIDED"
    assert "not excluded below the resolution of 0.04 m, 0.02 deg" in content.summary


def test_undecided_without_anything_left_open_names_no_resolution_of_nothing() -> None:
    answer = replace(on_pad(), verdict="undecided", best=None)
    for left, words in (
        (Resolution(0.02, 0.01, 0.0, 0.0, 1000, False), "no proof that there is none"),
        (Resolution(0.02, 0.01, 3.0, 9.0, 1000, True), "the search ended early"),
    ):
        summary = content_of_placement(replace(answer, resolution=left)).summary
        assert words in summary
        assert "resolution" not in summary


def test_alternatives_are_said_to_be_the_best_only_where_that_is_known() -> None:
    found = on_pad().resolution
    assert found is not None
    for gap_m, words in (
        (0.94, "the best of each area and direction (within 1 m)"),
        (1.31, "the best of each area and direction (within 1.4 m)"),
        (None, "other places found, by area and direction"),
        (35.0, "other places found, by area and direction"),
    ):
        told = replace(on_pad(), resolution=replace(found, alternatives_m=gap_m))
        titles = [section.title for section in content_of_placement(told).sections]
        assert any(title.endswith(words) for title in titles)


def test_subject_without_an_encounter_heads_somewhere_at_its_start() -> None:
    best = on_pad().best
    assert best is not None
    assert not best.at_start
    told = replace(on_pad(), best=replace(best, at_start=True), excluded=("headings 0 deg",))
    text = str(content_of_placement(told).sections)
    assert "at its start" in text
    assert "the start lies in pad" in text
    assert "encounter" not in text


def test_picture_is_no_wider_than_asked_for() -> None:
    anchored = replace(PAD, anchor=AnchorSpec(8.5, 50.1, 30.0, 0.0, "EPSG:4326", Origin("", 1, 1)))
    lines = placement_picture(on_pad(), anchored, 40)
    assert max(map(len, lines)) <= 40
    assert "up is 300 deg" in " ".join(lines)


def test_margin_that_no_place_has_is_told_as_missing() -> None:
    answer = place(load(FILE), PAD, Options(least_margin_m=38.0), staged=walker())
    assert answer.verdict == "none"
    assert answer.shortfall is not None
    assert answer.shortfall.short_m > 0
    content = content_of_placement(answer)
    assert content.headline == "NO PLACE"
    assert "with a margin of 38.00 m" in content.summary


def test_directions_that_cost_the_place_are_told() -> None:
    strip = ground(strip=box(0, 0, 300, 12))
    options = Options(not_towards=("0 deg +/- 40 deg", "180 deg +/- 40 deg"))
    answer = place(load(FILE), strip, options, staged=walker())
    assert answer.verdict == "none"
    assert answer.shortfall is not None
    assert answer.shortfall.without_exclusions_m is not None
    assert answer.shortfall.without_exclusions_m > 0


def test_whole_circle_left_out_is_a_fault() -> None:
    with pytest.raises(ChoreoError) as caught:
        place(load(FILE), PAD, Options(not_towards=("0 deg +/- 180 deg",)), staged=walker())
    assert caught.value.findings[0].code == "place.no-direction-left"


def test_plan_that_does_not_exist_has_no_place() -> None:
    none = Footprint(replace(walker().plan, verdict="infeasible"), None)
    answer = place(load(FILE), PAD, staged=none)
    assert (answer.verdict, answer.plan_verdict) == ("no plan", "infeasible")
    assert "choreo why" in content_of_placement(answer).summary


def test_document_has_no_number_that_is_none() -> None:
    text = placement_text(replace(on_pad(), margin_bound_m=math.inf))
    assert json.loads(text)["margin_bound_m"] is None


def test_settled_pose_is_parallel_to_the_edge_and_in_the_middle() -> None:
    site, footprint = box(0, 0, 200, 20), box(0, 0, 40, 8)
    askew = Rigid(12.0, 6.0, 0.0002)

    def margin_m(pose: Rigid) -> float:
        return exact_margin_m(site, pose.geometry(footprint))

    tidy = settled(askew, footprint, site, margin_m)
    assert margin_m(tidy) >= margin_m(askew) - 0.002
    assert tidy.angle_rad == pytest.approx(0.0, abs=1e-9)
    middle = np.mean(shapely.get_coordinates(tidy.geometry(footprint))[:4, 0])
    assert middle == pytest.approx(100, abs=1.0)
