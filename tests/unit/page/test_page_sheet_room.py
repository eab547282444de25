"""The run sheet says where nobody may be, until when a run can be stopped, and where things lie on earth."""

import html
import math
import re
from dataclasses import replace

import pytest

from choreo.ground import Earth, build_ground
from choreo.page import sheet_of
from choreo.page.sheet_room import on_earth
from choreo.plans.record import Message
from choreo.plans.room_record import KeepOut, NoReturn
from choreo.report.room import room_sections, state_words
from choreo.report.sections import notes_of
from choreo.report.zone import area_words, extent_of
from choreo.scenario import load_site
from choreo.words.display import plain
from tests.unit.page.shown import FOLDER, NAMES, sheet, whole

GOOD = [name for name in NAMES if not name.startswith("impossible/")]


def _words(text: str) -> str:
    body = text.split("</style>")[1]
    return html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", body)))


@pytest.mark.parametrize("name", GOOD)
def test_sheet_tells_point_of_no_return_required_runway_and_zone(name: str) -> None:
    plan = whole(name).plan
    words = _words(sheet(name))
    space = plan.space
    assert space is not None
    assert bool(space.no_return) == bool(plan.encounters)
    for one in space.no_return:
        who = "all together" if one.who == "all" else f"{one.who} alone"
        assert who in words
        if one.before_s:
            assert f"{who} {one.time_s:.3f} {one.before_s:.3f}" in words
    assert any(mover.pieces for mover in plan.movers.values())
    for mover_name, mover in plan.movers.items():
        if mover.pieces:
            assert mover.runway.required_m is not None
            assert f"Runway required {mover.runway.required_m:.3f} m" in words
            assert f"Independent stop of {mover_name} tested today" in words
            assert f"clear for {mover.runway.required_m:.3f} m" in words
    assert "Keep-out zone clear of people" in words
    apart = [pair for pair in space.clearances if pair.meets_s is None][:5]
    told = [f"{pair.a} / {pair.b} {plain(pair.least_m)} {plain(pair.time_s)}" for pair in apart]
    assert [line for line in told if line not in words] == []


def test_sheet_tells_where_curves_are_banked_and_what_they_hold() -> None:
    words = _words(sheet("banked-curve"))
    begins = words.index("Banked curves")
    assert re.search(r"m \(\[.* m, .* m\] to \[.*\]\) is banked by 25 deg .* up to", words[begins:])


def test_sheet_tells_who_is_steered_beside_its_line() -> None:
    name = "walker-nearside"
    found = whole(name)
    word = Message("space.aside-counted", "warning", "it leaves it", "Keep it free.", None)
    plan = replace(found.plan, warnings=(word,))
    words = _words(sheet_of(found.scenario, plan, found.paths, found.ground))
    assert "Steered to and fro it leaves it. Keep it free" in words
    assert "Steered to and fro" not in _words(sheet(name))


def test_no_return_is_in_seconds_and_metres_before_the_encounter() -> None:
    words = _words(sheet("walker-nearside"))
    space = whole("walker-nearside").plan.space
    assert space is not None
    (one,) = [found for found in space.no_return if found.who == "all"]
    ways = ", ".join(f"{name} {left:.2f}" for name, left in one.before_m.items())
    assert f"all together {one.time_s:.3f} {one.before_s:.3f} {ways}" in words
    # All together stand first: it is what a crew does.
    assert words.index("all together") < words.index("subject alone")


def test_extents_of_the_zone_are_rounded_outwards() -> None:
    ring = ((-1.01, 2.0), (3.31, 2.0), (3.31, 4.09), (-1.01, 4.09), (-1.01, 2.0))
    box = extent_of(KeepOut(0.0, 0.0, 1.0, 1.0, ((ring,),)))
    assert (box.x0_m, box.x1_m, box.y0_m, box.y1_m) == (-1.1, 3.4, 2.0, 4.1)


def test_areas_are_rounded_up() -> None:
    assert (area_words(3001.2), area_words(3002.0)) == ("3002 m2", "3002 m2")


def test_terminal_and_sheet_tell_the_same_zone() -> None:
    name = "walker-nearside"
    (notes,) = notes_of(room_sections(whole(name).plan), "ground")
    (told,) = [line for line in notes.lines if line.startswith("Keep-out zone")]
    area, extent = re.findall(r"zone: (\d+ m2), (x .* m, y .* m): ", told)[0]
    assert f"from go to rest: {extent}; {area}, errors of" in _words(sheet(name))


@pytest.mark.parametrize("name", GOOD)
def test_zone_sketch_keeps_the_zone_on_its_paper(name: str) -> None:
    (drawn,) = re.findall(r'<path class="zone" d="([^"]*)"', sheet(name))
    (wide, high) = re.findall(r'zone-sketch" viewBox="0 0 (\d+) (\d+)"', sheet(name))[0]
    numbers = [float(one) for one in re.findall(r"-?[\d.]+", drawn)]
    xs, ys = numbers[::2], numbers[1::2]
    assert 0 < min(xs) < max(xs) < float(wide)
    assert 0 < min(ys) < max(ys) < float(high)


def test_obstacles_and_edges_of_the_ground_are_in_the_sketch() -> None:
    found = whole("walker-nearside")
    ground = build_ground(load_site(FOLDER / "sites" / "l-pad.yaml"))
    text = sheet_of(found.scenario, found.plan, found.paths, ground)
    assert text.count('<path class="edge"') == 2
    assert text.count('<path class="solid"') == 1
    assert '<path class="edge"' not in sheet_of(found.scenario, found.plan, found.paths)


def test_start_marks_are_told_in_longitude_and_latitude_that_lead_back_to_them() -> None:
    found = whole("walker-nearside")
    scenario = replace(found.scenario, site=load_site(FOLDER / "sites" / "l-pad.yaml"))
    assert scenario.site is not None
    assert scenario.site.anchor is not None
    rows = re.findall(
        r'<th scope="row">(\w+)</th><td class="number">([-\d.]+)</td><td class="number">([-\d.]+)</td>'
        r'<td class="number">([-\d.]+)</td>',
        on_earth(scenario, found.plan),
    )
    assert [row[0] for row in rows] == list(found.plan.movers)
    earth = Earth(scenario.site.anchor)
    for name, longitude, latitude, bearing in rows:
        start = found.plan.movers[name].start
        x_m, y_m = earth.to_site(float(longitude), float(latitude))
        # Nine digits of a degree are a tenth of a millimetre.
        assert math.hypot(x_m - start.x_m, y_m - start.y_m) < 2e-4
        assert float(bearing) == pytest.approx((30 - start.heading_deg) % 360, abs=0.005)


def test_a_site_without_an_anchor_has_no_places_on_earth() -> None:
    found = whole("steady-circle")
    assert found.scenario.site is None or found.scenario.site.anchor is None
    assert on_earth(found.scenario, found.plan) == ""
    assert "x east, y north" in _words(sheet("steady-circle"))


def test_sheet_says_where_a_solved_obstacle_stands() -> None:
    space = whole("child-seen-late").plan.space
    assert space is not None
    (sight,) = space.sights
    words = _words(sheet("child-seen-late"))
    assert f"front_van: x {sight.x_m:.3f} m, y {sight.y_m:.3f} m" in words
    assert f"child is first seen {sight.to_collision_s:.3f} s before collision" in words


def test_sheet_of_a_plan_that_is_not_clear_leaves_no_choice() -> None:
    found = whole("walker-nearside")
    assert found.plan.space is not None
    failure = Message("x", "error", "subject leaves the site", "", None)
    space = replace(found.plan.space, clear=False, failures=(failure,))
    words = _words(sheet_of(found.scenario, replace(found.plan, space=space), found.paths))
    assert "CHECKS THAT FAILED: do not run this" in words
    assert words.index("subject leaves the site") < words.index("Go or no-go")
    assert "NO-GO: checks of this plan have failed." in words
    assert "decided by" not in words
    assert "decided by" in _words(sheet("walker-nearside"))


def test_sheet_without_space_falls_back_to_the_planned_runway() -> None:
    found = whole("walker-nearside")
    movers = {
        name: replace(one, runway=replace(one.runway, failsafe_m=None, required_m=None))
        for name, one in found.plan.movers.items()
    }
    bare = replace(found.plan, space=None, movers=movers)
    words = _words(sheet_of(found.scenario, bare, found.paths))
    assert f"Runway {movers['subject'].runway.total_m:.3f} m: run-up" in words
    assert "Nobody and nothing else inside the area" in words
    assert "point of no return" not in words
    assert "Keep-out zone" not in words


def test_one_who_takes_no_part_is_told_not_to_prevent_the_encounter() -> None:
    """Its stop may come at any time, but that is no way to break off, unless a trigger waits for it."""
    plan = whole("walker-nearside").plan
    always = NoReturn("contact", "third", "always", 0.5, None, None)
    assert "doesn't prevent" in state_words(always, plan)
    until = NoReturn("contact", "third", "until", 0.5, 3.0, 1.0, {}, ((0.0, 3.0),))
    assert "doesn't prevent" in state_words(until, plan)
    (name, trigger), *_ = plan.triggers.items()
    waited = replace(plan, triggers={name: replace(trigger, watch="third")})
    assert "may not prevent" in state_words(always, waited)
    assert "at any time" in state_words(replace(always, who="walker"), plan)
