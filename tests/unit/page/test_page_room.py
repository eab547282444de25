"""What the page says of room: the ground, the zone, breaking off, clearances, sights, and checks that failed."""

import json
import re
from dataclasses import replace
from typing import Any

import pytest
from shapely import Polygon

from choreo.ground import Area, Ground, build_ground
from choreo.page import page_of
from choreo.page.room_data import DRAWN_ZONE_M, FEW_CORNERS, space_data, thinned
from choreo.plans.record import Message, Plan
from choreo.plans.room_record import KeepOut, NoReturn
from choreo.scenario import load_site
from tests.unit.page.shown import FOLDER, NAMES, page, whole

GOOD = [name for name in NAMES if not name.startswith("impossible/")]


def _data(text: str) -> Any:
    (found,) = re.findall(r'<script type="application/json" id="plan-data">(.*?)</script>', text)
    return json.loads(found)


def _page_with(plan: Plan, ground: Ground | None = None) -> str:
    found = whole("walker-nearside")
    return page_of(found.scenario, plan, found.paths, ground)


def _polygons(rings: Any) -> list[Polygon]:
    return [Polygon(one[0], one[1:]) for one in rings]


@pytest.mark.parametrize("name", GOOD)
def test_drawn_zone_leaves_nothing_of_the_keep_out_zone_out(name: str) -> None:
    space = whole(name).plan.space
    assert space is not None
    assert space.keep_out is not None
    (drawn,) = _polygons(_data(page(name))["space"]["zone"])
    (exact,) = _polygons(space.keep_out.polygons)
    assert drawn.is_valid
    # Corners are told to a millimetre.
    assert drawn.buffer(0.001).covers(exact)
    assert drawn.hausdorff_distance(exact) < DRAWN_ZONE_M + 0.002


def test_a_long_zone_is_drawn_with_fewer_corners() -> None:
    space = whole("steady-circle").plan.space
    assert space is not None
    assert space.keep_out is not None
    (rings,) = space.keep_out.polygons
    assert len(rings[0]) > FEW_CORNERS
    assert len(thinned(rings[0])) < 0.75 * len(rings[0])
    # Short ones stay as they are, without the last corner that repeats the first.
    assert thinned(((0.0, 0.0), (9.0, 0.0), (9.0, 9.0), (0.0, 0.0))) == [(0, 0), (9, 0), (9, 9)]


def test_holes_of_a_zone_are_drawn() -> None:
    found = whole("walker-nearside")
    square = ((0.0, 0.0), (9.0, 0.0), (9.0, 9.0), (0.0, 9.0), (0.0, 0.0))
    hole = ((3.0, 3.0), (3.0, 6.0), (6.0, 6.0), (6.0, 3.0), (3.0, 3.0))
    assert found.plan.space is not None
    zone = KeepOut(10.0, 0.2, 72.0, 10.0, ((square, hole),))
    text = _page_with(replace(found.plan, space=replace(found.plan.space, keep_out=zone)))
    (drawn,) = _polygons(_data(text)["space"]["zone"])
    assert drawn.area == 81.0 - 9.0


def test_windows_and_last_instants_of_every_party_are_the_plans() -> None:
    plan = whole("two-encounters").plan
    names = list(plan.movers)
    assert plan.space is not None
    told = _data(page("two-encounters"))["space"]["noReturn"]
    assert len(told) == len(plan.space.no_return) == 4
    for one, shown in zip(plan.space.no_return, told, strict=True):
        assert shown["encounter"] == one.encounter
        met = plan.encounters[one.encounter]
        assert [names[index] for index in shown["pair"]] == [met.of, met.with_]
        assert shown["who"] == (-1 if one.who == "all" else names.index(one.who))
        assert shown["windows"] == [pytest.approx(window, abs=1e-6) for window in one.windows]
        ends = one.state == "until" and bool(one.before_s)
        assert shown["until"] == (pytest.approx(one.time_s, abs=1e-6) if ends else None)
    assert [len(shown["windows"]) for shown in told] == [1, 2, 1, 1]


def test_nearest_pair_that_is_not_to_meet_is_the_one_marked() -> None:
    nearest = _data(page("child-seen-late"))["space"]["nearest"]
    names = list(whole("child-seen-late").plan.movers)
    # The car passes the vans 1 m apart; the child, which it meets, comes nearer.
    assert (names[nearest["a"]], names[nearest["b"]]) == ("subject", "front_van")
    assert nearest["least"] == pytest.approx(1.0, abs=1e-3)
    assert _data(page("walker-nearside"))["space"]["nearest"] is None


def test_sight_lines_start_at_the_sensor_and_last_their_episodes() -> None:
    found = whole("child-seen-late")
    (sight,) = _data(page("child-seen-late"))["space"]["sights"]
    assert found.plan.space is not None
    (planned,) = found.plan.space.sights
    assert sight["eye"] == [found.scenario.movers["subject"].body.front_m, 0.0]
    assert sight["first"] == pytest.approx(planned.first_s, abs=1e-6)
    assert sight["episodes"] == [pytest.approx(one, abs=1e-6) for one in planned.episodes]


def test_sight_line_of_a_sensor_starts_where_the_sensor_is() -> None:
    found = whole("child-seen-late")
    sights = {
        name: replace(sight, sensor_m=(1.5, -0.4)) for name, sight in found.scenario.sights.items()
    }
    shown = space_data(replace(found.scenario, sights=sights), found.plan, list(found.plan.movers))
    assert shown is not None
    assert [sight["eye"] for sight in shown["sights"]] == [[1.5, -0.4]]


def test_ground_is_drawn_with_its_holes_and_named_obstacles() -> None:
    ground = build_ground(load_site(FOLDER / "sites" / "l-pad.yaml"))
    told = _data(_page_with(whole("walker-nearside").plan, ground))["ground"]
    words = [area["words"] for area in told["areas"]]
    assert words == ["asphalt, friction 0.9", "tiles, friction 0.25"]
    asphalt, tiles = (sum(p.area for p in _polygons(a["polygons"])) for a in told["areas"])
    # The L without the field of tiles: 600 x 80 + 120 x 320 - 120 x 8.
    assert (asphalt, tiles) == (600 * 80 + 120 * 320 - 960, 960)
    (hut,) = told["obstacles"]
    assert hut["words"] == "building"
    (rings,) = hut["polygons"]
    assert [sorted(ring) for ring in rings] == [[[95, 180], [95, 225], [130, 180], [130, 225]]]


def test_a_single_area_needs_no_name_and_no_ground_is_none() -> None:
    assert [area["words"] for area in _data(page("walker-nearside"))["ground"]["areas"]] == [""]
    assert _data(_page_with(whole("walker-nearside").plan))["ground"] is None


def test_pieces_of_a_divided_area_are_all_drawn() -> None:
    halves = Polygon([(0, 0), (9, 0), (9, 3), (0, 3)]).difference(
        Polygon([(4, -1), (5, -1), (5, 4), (4, 4)])
    )
    ground = Ground("g", (Area("g", halves, None, 0.0, 0.0),), {}, halves, None)
    (area,) = _data(_page_with(whole("walker-nearside").plan, ground))["ground"]["areas"]
    assert [one.area for one in _polygons(area["polygons"])] == [12.0, 12.0]


@pytest.mark.parametrize(("site", "north_deg"), [("strip.yaml", 75.0), ("l-pad.yaml", 30.0)])
def test_north_is_where_the_anchor_has_it(site: str, north_deg: float) -> None:
    # North lies to the left of an x axis that bears east of it by that many degrees.
    found = whole("walker-nearside")
    scenario = replace(found.scenario, site=load_site(FOLDER / "sites" / site))
    text = page_of(scenario, found.plan, found.paths)
    assert _data(text)["north"] == pytest.approx(north_deg * 3.14159265 / 180, abs=1e-6)


def test_without_space_nothing_of_it_is_shown() -> None:
    plan = replace(whole("walker-nearside").plan, space=None)
    text = _page_with(plan)
    assert _data(text)["space"] is None
    assert "Failsafe stops" not in text
    assert "Point of no return" not in text
    assert 'class="failed"' not in text
    assert _data(page("impossible/runway-too-short-for-the-trigger"))["space"] is None


def _not_clear(plan: Plan) -> Plan:
    assert plan.space is not None
    failure = Message("x", "error", "subject <leaves> the site", "Move it.", None)
    return replace(plan, space=replace(plan.space, clear=False, failures=(failure,)))


def test_failed_checks_stand_before_everything_else() -> None:
    text = _page_with(_not_clear(whole("walker-nearside").plan))
    box = text.index('<section class="failed">')
    assert box < text.index('id="plan"')
    assert box < text.index("<strong>Caution.</strong>")
    assert "CHECKS THAT FAILED: do not run this" in text
    assert "subject &lt;leaves&gt; the site" in text


def test_a_plan_that_is_not_clear_never_looks_well() -> None:
    text = _page_with(_not_clear(whole("walker-nearside").plan))
    (stamp,) = re.findall(r'<p class="stamp">(.*?)</p>', text)
    assert "FEASIBLE, NOT CLEAR" in stamp
    assert "\u2713" not in stamp
    assert '<body class="feasible not-clear ' in text
    assert '<body class="feasible clear ' in page("walker-nearside")


def test_new_tables_are_on_the_page() -> None:
    text = page("child-seen-late")
    for title in (
        "Failsafe stops",
        "Point of no return:",
        "Clearance, bodies",
        "Sight lines",
        "Obstacles placed for them",
        "Ground",
    ):
        assert f"<h3>{title}" in text


def test_a_party_that_never_can_break_off_has_no_window() -> None:
    plan = whole("walker-nearside").plan
    assert plan.space is not None
    never = NoReturn("contact", "all", "never", 0.5, None, None)
    text = _page_with(replace(plan, space=replace(plan.space, no_return=(never,))))
    (shown,) = _data(text)["space"]["noReturn"]
    assert (shown["until"], shown["windows"]) == (None, [])


def test_a_simple_page_stays_small() -> None:
    assert len(page("walker-nearside").encode()) < 180_000
