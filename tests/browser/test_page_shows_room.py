"""Room on the page: the zone's layer, breaking off while it plays, sights and nearest pairs, checks that failed."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from choreo.page import page_of
from choreo.plans.record import Message, Plan
from choreo.plans.room_record import NoReturn
from tests.browser.conftest import Show
from tests.unit.page.shown import page, whole

INK = """(() => {
    const canvas = document.getElementById('plan');
    const pixels = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height).data;
    let sum = 0;
    for (let i = 0; i < pixels.length; i += 4) sum += 765 - pixels[i] - pixels[i + 1] - pixels[i + 2];
    return sum;
})()"""


def _line(shown: Any) -> str:
    return str(shown.text_content("#break-off-now"))


def _last_instants(name: str) -> dict[str, float]:
    space = whole(name).plan.space
    assert space is not None
    return {one.who: one.time_s for one in space.no_return if one.time_s is not None}


def _with_space(plan: Plan, **changed: Any) -> Plan:
    assert plan.space is not None
    return replace(plan, space=replace(plan.space, **changed))


def _shown(show: Show, plan: Plan) -> Any:
    found = whole("walker-nearside")
    watched = show(page_of(found.scenario, plan, found.paths, found.ground))
    assert watched.complaints == []
    return watched.page


def test_toggle_and_its_key_hide_and_show_the_zone(show: Show) -> None:
    shown = show(page("walker-nearside")).page
    assert shown.is_checked("#zone")
    with_zone = shown.evaluate(INK)
    shown.uncheck("#zone")
    without = shown.evaluate(INK)
    assert without < with_zone
    shown.evaluate("document.activeElement.blur()")
    shown.keyboard.press("k")
    assert shown.is_checked("#zone")
    # Once read from, a canvas may round a little otherwise.
    least = (with_zone - without) / 10
    assert shown.evaluate(INK) == pytest.approx(with_zone, abs=least)
    shown.keyboard.press("k")
    assert not shown.evaluate("choreo.zone()")
    assert shown.evaluate(INK) == pytest.approx(without, abs=least)


def test_whole_view_holds_the_zone_only_while_it_is_shown(show: Show) -> None:
    shown = show(page("turn-across-oncoming")).page
    with_zone = shown.evaluate("choreo.view().scale")
    shown.uncheck("#zone")
    shown.click("#fit")
    assert shown.evaluate("choreo.view().scale") > with_zone


def test_live_line_changes_as_points_of_no_return_pass(show: Show) -> None:
    shown = show(page("walker-nearside")).page
    last = _last_instants("walker-nearside")
    assert last["walker"] < last["subject"]
    shown.evaluate("t => choreo.setTime(t)", last["walker"] - 1.5)
    assert _line(shown).startswith("Can still be broken off by: all together (")
    assert "walker alone (1.5 s left)" in _line(shown)
    shown.evaluate("t => choreo.setTime(t)", last["walker"] + 0.01)
    assert "walker alone" not in _line(shown)
    assert "subject alone" in _line(shown)
    shown.evaluate("t => choreo.setTime(t)", max(last.values()) + 0.01)
    assert _line(shown) == "Can no longer be broken off before contact"
    assert shown.evaluate("document.getElementById('break-off-now').classList.contains('closed')")
    shown.evaluate("choreo.setTime(choreo.end())")
    assert _line(shown) == ""


def test_time_left_is_never_more_than_there_is(show: Show) -> None:
    shown = show(page("walker-nearside")).page
    last = _last_instants("walker-nearside")["all"]
    shown.evaluate("t => choreo.setTime(t)", last - 0.19)
    assert "all together (0.1 s left)" in _line(shown)


def test_windows_that_open_again_are_told_ahead(show: Show) -> None:
    plan = _with_space(
        whole("walker-nearside").plan,
        no_return=(
            NoReturn(
                "contact", "all", "until", 0.5, 2.0, 8.4, {}, ((0.0, 2.0), (5.0, 6.0), (7.0, 7.5))
            ),
        ),
    )
    shown = _shown(show, plan)
    told = []
    for time in (1.0, 3.0, 5.5, 6.5, 8.0):
        shown.evaluate("t => choreo.setTime(t)", time)
        told.append(_line(shown))
    assert told == [
        "Can still be broken off by: all together (1.0 s left)",
        "Can no longer be broken off before contact; all together from 5.00 s on",
        "Can still be broken off by: all together (0.5 s left)",
        "Can no longer be broken off before contact; all together from 7.00 s on",
        "Can no longer be broken off before contact",
    ]
    assert shown.locator("#break-off rect").count() == 3


def test_breaking_off_up_to_the_encounter_says_so(show: Show) -> None:
    shown = show(page("two-encounters")).page
    assert "all together (up to brake_gap)" in _line(shown)


def test_every_party_has_its_bar_and_its_last_instant_on_the_charts(show: Show) -> None:
    shown = show(page("walker-nearside")).page
    words = shown.text_content("#break-off")
    last = _last_instants("walker-nearside")
    assert set(last) == {"subject", "walker", "all"}
    for who, time in last.items():
        assert ("all together" if who == "all" else who) in words
        assert f"no return {time:.2f} s" in words
    for chart in ("#score", "#chart-speed", "#chart-accel", "#chart-room"):
        assert shown.locator(f"{chart} path title").count() == 3


def test_points_of_no_return_are_moments_to_go_to(show: Show) -> None:
    shown = show(page("walker-nearside")).page
    last = _last_instants("walker-nearside")
    shown.select_option("#moment", label=f"{last['walker']:.2f} s  no return: walker alone")
    assert shown.evaluate("choreo.time()") == pytest.approx(last["walker"], abs=1e-6)
    assert "no return: walker alone" in shown.text_content("#said")


def test_sight_line_and_nearest_pair_show_at_their_moments(show: Show) -> None:
    shown = show(page("child-seen-late")).page
    space = whole("child-seen-late").plan.space
    assert space is not None
    first_s = space.sights[0].first_s
    assert first_s is not None
    shown.select_option("#moment", label=f"{first_s:.2f} s  child_seen: first seen")
    assert "child_seen: first seen" in shown.text_content("#said")
    before, after = (
        shown.evaluate(f"(choreo.setTime({first_s + step}), {INK})") for step in (-0.01, 0.01)
    )
    # A wedge of sight is far more ink than a centimetre of way.
    assert after > before + 20_000
    nearest = space.clearances[0]
    shown.evaluate("t => choreo.setTime(t)", nearest.time_s)
    assert f"least clearance, {nearest.a} and {nearest.b}" in shown.text_content("#said")


def test_page_without_space_has_no_part_of_it(show: Show) -> None:
    shown = _shown(show, replace(whole("walker-nearside").plan, space=None))
    assert not shown.locator("#zone-box").is_visible()
    assert not shown.locator("#break-off-box").is_visible()
    assert not shown.locator("#break-off-now").is_visible()
    assert "keep-out" not in shown.text_content("#legend")


def test_failed_checks_are_seen_first_on_screen_and_on_paper(show: Show) -> None:
    failure = Message("x", "error", "subject leaves the site", "Move it.", None)
    shown = _shown(
        show, _with_space(whole("walker-nearside").plan, clear=False, failures=(failure,))
    )
    box = shown.locator(".screen .failed")
    assert box.is_visible()
    assert box.bounding_box()["y"] < shown.locator("#plan").bounding_box()["y"]
    red, green, _ = shown.evaluate(
        "getComputedStyle(document.querySelector('.stamp')).color.match(/\\d+/g).map(Number)"
    )
    assert red > 2 * green
    shown.emulate_media(media="print")
    assert shown.locator(".sheet .failed").is_visible()


def test_narrow_screens_hold_what_is_told_of_room(show: Show) -> None:
    shown = show(page("two-encounters"), 375, 740).page
    shown.evaluate("choreo.setTime(15)")
    assert shown.evaluate("document.documentElement.scrollWidth") <= 375
    beyond = shown.evaluate(
        """() => [...document.querySelectorAll('#break-off text')].filter((one) =>
            one.getBoundingClientRect().right > document.documentElement.clientWidth).length"""
    )
    assert beyond == 0
