"""The page in a browser: it moves bodies where the plan says, by mouse and by keyboard, offline."""

from __future__ import annotations

import random
from typing import Any

import numpy as np
import pytest

from choreo.geometry import banks_of
from choreo.problem import paths_by_mover
from choreo.track.motion import motion_of
from tests.browser.conftest import Show
from tests.unit.page.shown import NAMES, page, planned

# Forty moments of a run, then every encounter, then the whole: how often a name was looked at, what was wrong, and how
# wide (px) the widest body is drawn across its way: 6 at least on a view as small as that of a phone.
LOOK = """() => {
    const wrong = [];
    const data = JSON.parse(document.getElementById("plan-data").textContent);
    const { width, height } = document.getElementById("plan").getBoundingClientRect();
    const box = (c) => {
        const [x, y] = [0, 1].map((k) => c.map((p) => p[k]));
        return [Math.min(...x), Math.min(...y), Math.max(...x), Math.max(...y)];
    };
    const still = ["#plan", "#play", "#scrub", "#clock", "#chart-room svg"];
    const where = () => JSON.stringify(still.map((one) => {
        const { left, top, bottom } = document.querySelector(one).getBoundingClientRect();
        return [left, top, bottom].map((px) => Math.round(px));
    }));
    const before = where();
    let named = 0;
    for (let k = 0; k < 40; k += 1) {
        choreo.setTime((choreo.end() * k) / 39);
        if (k % 10 === 9 && where() !== before) wrong.push(`shifted at ${choreo.time()}`);
        const at = choreo.bodies();
        for (const [words, b] of choreo.labels()) {
            if (!at[words]) continue;
            named += 1;
            const o = box(at[words]);
            const apart = b[2] < o[0] || b[0] > o[2] || b[3] < o[1] || b[1] > o[3];
            if (!apart) wrong.push(`${words} at ${choreo.time()}`);
        }
    }
    for (const one of data.encounters) {
        if (!one.place || one.t === null) continue;
        choreo.setTime(one.t);
        for (const i of [one.of, one.with]) {
            const o = box(choreo.bodies()[data.movers[i].name]);
            if (o[0] < 0 || o[1] < 0 || o[2] > width || o[3] > height) wrong.push(`${i} out of view at ${one.name}`);
        }
    }
    choreo.setTime(0);
    const moving = data.movers.filter((m) => m.pieces.length && !m.hinge);
    const widths = moving.map((m) => {
        const c = choreo.bodies()[m.name];
        const next = (k) => c[(k + 1) % c.length];
        const sides = c.map((p, k) => Math.hypot(p[0] - next(k)[0], p[1] - next(k)[1]));
        const o = box(c);
        return Math.max(...(choreo.view().across > 1 ? [o[3] - o[1]] : [Math.min(...sides)]));
    });
    return [named, wrong, Math.max(...widths)];
}"""
# At the largest useful zoom, 100 pixels a metre, this is a tenth of a pixel.
NEAR_M = 0.001
NEAR_RAD = 0.0005


def _assert_where_the_plan_says(name: str, shown: Any) -> None:
    """Compare the page's poses at its present time with the plan's pieces on the exact paths."""
    scenario, plan = planned(name)
    paths = paths_by_mover(scenario)
    now, poses = shown.evaluate("[choreo.time(), choreo.poses()]")
    assert set(poses) == set(plan.movers)
    for mover, planned_mover in plan.movers.items():
        state = motion_of(planned_mover).state(now)
        exact = paths[mover].pose(np.array([state.station_m]))
        pose = poses[mover]
        assert np.hypot(pose["x_m"] - exact.x_m[0], pose["y_m"] - exact.y_m[0]) < NEAR_M
        assert abs(pose["heading_rad"] - exact.heading_rad[0]) < NEAR_RAD
        assert abs(pose["station_m"] - state.station_m) < NEAR_M
        assert abs(pose["speed_mps"] - state.speed_mps) < NEAR_M
        assert abs(pose["accel_mps2"] - state.accel_mps2) < NEAR_M or _at_a_joint(
            planned_mover, now
        )


def _at_a_joint(mover: Any, time_s: float) -> bool:
    """Where two pieces meet the acceleration may jump: either value is right."""
    return any(
        abs(time_s - p.start_s) < 1e-9 or abs(time_s - p.start_s - p.duration_s) < 1e-9
        for p in mover.pieces
    )


def test_every_bundled_page_opens_without_a_request_or_a_complaint(show: Show) -> None:
    watched = show("<!doctype html><title>first</title>", 900, 700)
    assert len(NAMES) > 10
    for name in NAMES:
        watched.asked.clear()
        watched.open(page(name))
        assert [url.split(":")[0] for url in watched.asked] == ["file"], name
        assert watched.complaints == [], name
        if planned(name)[1].movers:
            # Any time does, the same one in every run of the tests.
            share = random.Random(name).random()
            watched.page.evaluate(f"choreo.setTime(choreo.end() * {share})")
            _assert_where_the_plan_says(name, watched.page)
            named, wrong, widest = watched.page.evaluate(LOOK)
            assert (named > 0, wrong) == (True, []), name
            assert widest >= 6 - 0.1, name


def test_a_bank_is_marked_and_its_floor_takes_its_part_of_the_limit(show: Show) -> None:
    shown = show(page("banked-curve")).page
    told = [words for words, _ in shown.evaluate("choreo.labels()")]
    assert told.count("banked 25 deg") == 1
    assert "banked, strokes downhill" in shown.locator("#legend").inner_text()
    scenario, plan = planned("banked-curve")
    path = paths_by_mover(scenario)["subject"]
    first, last, bank = max(banks_of(path), key=lambda one: one[1] - one[0])
    subject = plan.movers["subject"]
    at = next(
        t
        for t in np.linspace(0, motion_of(subject).end_s, 500)
        if first < motion_of(subject).state(t).station_m < last
    )
    shown.evaluate(f"choreo.setTime({at})")
    # 180 km/h on 200 m is 12.5 m/s2, far over the limit of a level floor.
    limit = scenario.movers["subject"].limits.lateral_mps2
    assert bank > 0.4
    assert shown.evaluate("choreo.poses().subject.sideways_mps2") == pytest.approx(limit, rel=0.01)


BENT = [
    "cut-out-reveals-stationary",
    "turn-across-oncoming",
    "steady-circle",
    "surveyed-road-walker",
]


@pytest.mark.parametrize("name", BENT)
def test_bodies_are_where_the_plan_says_at_chosen_times(name: str, show: Show) -> None:
    shown = show(page(name)).page
    _, plan = planned(name)
    last = max(motion_of(mover).end_s for mover in plan.movers.values())
    events = [event.time_s for mover in plan.movers.values() for event in mover.events]
    for time in [0.0, 0.123, *np.linspace(0, last, 11), *events]:
        shown.evaluate("t => choreo.setTime(t)", float(time))
        assert shown.evaluate("choreo.time()") == pytest.approx(min(time, last), abs=1e-6)
        _assert_where_the_plan_says(name, shown)


def test_play_runs_the_clock_and_pause_stops_it(show: Show) -> None:
    watched = show(page("walker-nearside"))
    shown = watched.page
    shown.select_option("#pace", "4")
    shown.click("#play")
    assert shown.text_content("#play") == "Pause"
    watched.wait_until("choreo.time() > 1.5")
    shown.click("#play")
    stopped = shown.evaluate("choreo.time()")
    shown.wait_for_timeout(120)
    assert shown.evaluate("choreo.time()") == stopped
    assert not shown.evaluate("choreo.playing()")
    _assert_where_the_plan_says("walker-nearside", shown)
    assert shown.evaluate("choreo.poses().subject.speed_mps") > 1.0


def test_play_stops_at_the_end_and_begins_anew(show: Show) -> None:
    watched = show(page("walker-nearside"))
    shown = watched.page
    shown.evaluate("choreo.setTime(choreo.end() - 0.05)")
    shown.click("#play")
    watched.wait_until("!choreo.playing()")
    assert shown.evaluate("choreo.time() === choreo.end()")
    shown.click("#play")
    assert shown.evaluate("choreo.time()") < 1.0


def test_slow_motion_is_ten_times_slower(show: Show) -> None:
    shown = show(page("walker-nearside")).page
    shown.keyboard.press("s")
    assert shown.input_value("#pace") == "0.1"
    shown.keyboard.press(" ")
    began = shown.evaluate("[performance.now() / 1000, choreo.time()]")
    shown.wait_for_timeout(600)
    ended = shown.evaluate("[performance.now() / 1000, choreo.time()]")
    share = (ended[1] - began[1]) / (ended[0] - began[0])
    assert 0.05 < share < 0.15


def test_keyboard_steps_jumps_and_goes_to_the_ends(show: Show) -> None:
    shown = show(page("walker-nearside")).page
    _, plan = planned("walker-nearside")

    def after(key: str) -> float:
        shown.keyboard.press(key)
        return float(shown.evaluate("choreo.time()"))

    assert after("ArrowRight") == pytest.approx(0.05)
    assert after("Shift+ArrowRight") == pytest.approx(0.55)
    assert after("ArrowLeft") == pytest.approx(0.5)
    assert after(".") == pytest.approx(0.505)
    assert after("End") == pytest.approx(shown.evaluate("choreo.end()"))
    assert after("Home") == 0.0
    moments = [event.time_s for mover in plan.movers.values() for event in mover.events]
    first = min(time for time in moments if time > 0)
    assert after("]") == pytest.approx(first, abs=1e-4)
    assert after("[") == 0.0


def test_slider_and_list_of_moments_move_the_time(show: Show) -> None:
    shown = show(page("walker-nearside")).page
    shown.locator("#scrub").fill("3.21")
    assert shown.evaluate("choreo.time()") == pytest.approx(3.21)
    contact_s = planned("walker-nearside")[1].encounters["contact"].time_s
    shown.select_option("#moment", label=f"{contact_s:.2f} s  contact")
    assert shown.evaluate("choreo.time()") == pytest.approx(contact_s, abs=1e-5)
    assert "contact" in shown.text_content("#said")
    assert shown.text_content("#readout tbody tr:first-child td:nth-of-type(2)") == "40.00"


@pytest.mark.parametrize("chart", ["#score", "#chart-speed", "#chart-accel", "#chart-room"])
def test_pressing_one_chart_moves_every_cursor_and_hovering_none(chart: str, show: Show) -> None:
    shown = show(page("walker-nearside"), 1366, 900).page
    wide = shown.locator(f"{chart} svg").bounding_box()["width"]
    at = {"x": 82 + 0.25 * (wide - 82 - 104), "y": 30}
    shown.hover(f"{chart} svg", position=at)
    assert shown.evaluate("choreo.time()") == 0
    assert shown.locator(f"{chart} .hover-line").get_attribute("visibility") == "visible"
    shown.click(f"{chart} svg", position=at)
    end = shown.evaluate("choreo.end()")
    assert shown.evaluate("choreo.time()") == pytest.approx(end / 4, rel=0.01)
    places = shown.eval_on_selector_all(
        ".cursor-line", "lines => lines.map((l) => l.getAttribute('x1'))"
    )
    assert len(places) == 5
    assert len(set(places)) == 1


def test_view_zooms_pans_and_rides_with_a_mover(show: Show) -> None:
    watched = show(page("turn-across-oncoming"))
    shown = watched.page
    whole = shown.evaluate("choreo.view()")
    shown.focus("#plan")
    shown.keyboard.press("+")
    closer = shown.evaluate("choreo.view()")
    assert closer["scale"] == pytest.approx(1.3 * whole["scale"])
    shown.keyboard.press("ArrowRight")
    assert shown.evaluate("choreo.view().x") > closer["x"]
    assert shown.evaluate("choreo.time()") == 0.0
    box = shown.locator("#plan").bounding_box()
    middle = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    before = shown.evaluate("choreo.view()")
    shown.mouse.move(*middle)
    shown.mouse.down()
    shown.mouse.move(middle[0] + 50, middle[1] + 20)
    shown.mouse.up()
    dragged = shown.evaluate("choreo.view()")
    assert dragged["x"] == pytest.approx(before["x"] - 50 / before["scale"])
    assert dragged["y"] == pytest.approx(before["y"] + 20 / (before["scale"] * before["across"]))
    shown.mouse.wheel(0, -200)
    watched.wait_until(f"choreo.view().scale > {dragged['scale']}")
    shown.select_option("#ride", label="subject")
    for time in (5.0, 9.0):
        shown.evaluate("t => choreo.setTime(t)", time)
        pixel = shown.evaluate("choreo.poses().subject.pixel")
        assert pixel == pytest.approx([box["width"] / 2, box["height"] / 2], abs=1.0)
    shown.keyboard.press("Escape")
    shown.focus("#plan")
    shown.keyboard.press("0")
    assert shown.evaluate("choreo.view()") == whole | {"viewed": "whole"}


def test_body_is_drawn_in_its_colour_where_the_plan_says(show: Show) -> None:
    shown = show(page("walker-nearside")).page
    shown.evaluate("choreo.setTime(9)")
    shown.select_option("#ride", label="subject")
    look = """() => {
        const canvas = document.getElementById('plan');
        const ratio = canvas.width / canvas.getBoundingClientRect().width;
        const [x, y] = choreo.poses().subject.pixel;
        return [...canvas.getContext('2d').getImageData(x * ratio, y * ratio, 1, 1).data];
    }"""
    red, green, blue, _ = shown.evaluate(look)
    assert blue > red + 60
    assert blue > green + 30


def test_half_a_turn_is_told_as_180_degrees(show: Show) -> None:
    shown = show(page("turn-across-oncoming")).page
    assert shown.text_content("#readout tbody tr:nth-child(2) td:last-child") == "180.0"
    assert shown.text_content("#readout tbody tr:nth-child(1) td:last-child") == "0.0"
