"""What terminal, page and sheet say of a plan is so: directions, speeds at impacts, what times count from."""

import math
import re
from dataclasses import replace

import numpy as np
import pytest
import shapely

from choreo.case import Answer
from choreo.page.sheet import sheet_html
from choreo.plans.record import EncounterPlan, MoverPlan
from choreo.problem import paths_by_mover
from choreo.report.content import content_of
from choreo.report.encounters import relative_words
from choreo.report.picture import picture_of, up_words
from choreo.scenario import AnchorSpec
from choreo.words import Origin
from tests.answers import whole
from tests.unit.page.shown import planned


def anchor(bearing_deg: float) -> AnchorSpec:
    return AnchorSpec(9.0, 51.0, bearing_deg, 0.0, "EPSG:4326", Origin("site.yaml", 1, 1))


def test_picture_says_which_way_is_up() -> None:
    assert [up_words(one) for one in (None, anchor(90.0), anchor(120.0))] == [
        "y up", "north up", "up is 30 deg",
    ]  # fmt: skip
    scenario, plan = planned("walker-nearside")
    head = picture_of(plan, paths_by_mover(scenario), 100, anchor(0.0))[1]
    assert head.startswith("plan view, up is 270 deg, a column is ")


def test_lane_change_is_no_straight_line_in_the_picture() -> None:
    answer = whole("double-lane-change")
    lines = picture_of(answer.plan, answer.paths, 100)
    assert re.search(r"y is drawn \d+ times as large$", lines[1])
    rows = [n for n, line in enumerate(lines[2:12]) if "-" in line]
    assert rows[-1] - rows[0] >= 6


def test_nothing_is_said_of_encounters_where_there_is_none() -> None:
    answer = whole("double-lane-change")
    content = content_of(answer.scenario, answer.plan)
    assert content.summary.startswith("An independent simulation agrees: limits used up to")


@pytest.mark.parametrize(
    "name",
    ["walker-nearside", "motorcycle-into-flank", "turn-across-oncoming", "junction-crossing"],
)
def test_bodies_near_each_other_as_fast_as_told(name: str) -> None:
    """The rate at which the outlines near each other, as simulated; an impact's speed is never more than relative."""
    answer = whole(name)
    (one,) = (one for one in answer.plan.encounters.values() if one.touches)
    back_s = 0.01
    near_m = [_apart_m(answer, one, one.time_s - ago * back_s) for ago in (1.0, 2.0)]
    assert one.closing_mps == pytest.approx((near_m[1] - near_m[0]) / back_s, rel=0.01)


def _apart_m(answer: Answer, one: EncounterPlan, time_s: float) -> float:
    """How far the outlines are apart at a time, by a library for planar shapes."""
    shapes = []
    for name in (one.of, one.with_):
        body = answer.scenario.movers[name].body
        pose = answer.paths[name].pose(np.array([_station_m(answer.plan.movers[name], time_s)]))
        turned = float(pose.heading_rad[0])
        shape = shapely.affinity.rotate(shapely.Polygon(body.corners_m), turned, (0, 0), True)
        shapes.append(shapely.affinity.translate(shape, float(pose.x_m[0]), float(pose.y_m[0])))
    return float(shapes[0].distance(shapes[1]))


def _station_m(mover: MoverPlan, time_s: float) -> float:
    """Where a mover is by the pieces of its plan."""
    piece = [one for one in mover.pieces if one.start_s <= time_s][-1]
    t = time_s - piece.start_s
    way_m = t * (piece.speed_mps + t * (piece.accel_mps2 / 2 + t * piece.jerk_mps3 / 6))
    return piece.station_m + way_m


def test_impact_on_the_flank_tells_both_speeds() -> None:
    """30 km/h across the way of 40 km/h: the motorcycle's 40 bring the two together, 50 is the relative speed."""
    one = whole("motorcycle-into-flank").plan.encounters["contact"]
    assert one.closing_mps * 3.6 == pytest.approx(40.0, abs=1e-6)
    assert one.relative_mps == pytest.approx(np.hypot(30.0, 40.0) / 3.6, abs=1e-6)
    assert "50.0 km/h seen from motorcycle, of which 40.0 km/h" in str(relative_words(one))
    assert relative_words(replace(one, relative_mps=None)) is None


def test_sheet_names_its_site_and_what_times_count_from() -> None:
    answer = whole("walker-nearside")
    scenario, plan = answer.scenario, answer.plan
    assert scenario.site is not None

    def sheet(plan=plan) -> str:
        html = sheet_html(scenario, plan, answer.paths, content_of(scenario, plan), answer.ground)
        return html.replace("\u00a0", " ")  # numbers don't part from their units

    assert f"Site: <b>{scenario.site.title}</b>" in sheet()
    assert "Times: from go, the first launch." in sheet()
    later = {
        name: replace(mover, launch_s=mover.launch_s + 2.0) for name, mover in plan.movers.items()
    }
    first_s = min(mover.launch_s for mover in later.values())
    assert math.isclose(first_s, 2.0, abs_tol=1e-6)
    assert "Times: from go; the first launch is 2.000 s later." in sheet(
        replace(plan, movers=later)
    )
