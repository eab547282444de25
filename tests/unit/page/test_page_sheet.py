"""The run sheet says what a crew must set, and its figures are the plan's."""

import html
import math
import re
from dataclasses import replace
from itertools import combinations

import pytest

from choreo.page import sheet_of
from choreo.page.gates import Gate, gates_of
from choreo.problem import paths_by_mover
from choreo.scenario import loads
from choreo.track.motion import motion_of
from tests.answers import timing_of
from tests.unit.page.shown import FOLDER, NAMES, planned, sheet

GOOD = [name for name in NAMES if not name.startswith("impossible/")]


def _words(text: str) -> str:
    body = text.split("</style>")[1]
    return html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", body)))


@pytest.mark.parametrize("name", GOOD)
def test_sheet_names_every_mark_launch_and_caution(name: str) -> None:
    scenario, plan = planned(name)
    words = _words(sheet(name))
    assert plan.title in words
    assert plan.fingerprint in words
    assert set(plan.movers) == set(scenario.movers)
    assert set(plan.triggers) == set(scenario.triggers)
    for mover in plan.movers.values():
        start = mover.start
        for value in (start.station_m, start.x_m, start.y_m):
            assert f"{round(value, 3) + 0.0:.3f}" in words
    for trigger in plan.triggers.values():
        assert f"{trigger.time_s:.3f}" in words
    for told in (
        "Go or no-go",
        "Break off",
        "The run by the clock",
        "Start marks",
        "As run",
        "responsible test-safety staff",
    ):
        assert told in words
    assert "test safety" in words


@pytest.mark.parametrize("name", GOOD)
def test_every_pair_of_marks_has_its_tape(name: str) -> None:
    _, plan = planned(name)
    words = _words(sheet(name))
    names = list(plan.movers)
    pairs = list(combinations(names, 2))
    assert pairs if len(names) > 1 else names
    for one, other in pairs:
        a, b = plan.movers[one].start, plan.movers[other].start
        assert f"{one} to {other} {math.dist((a.x_m, a.y_m), (b.x_m, b.y_m)):.3f}" in words


@pytest.mark.parametrize("name", GOOD)
def test_gates_lie_on_the_plan_in_order_and_include_every_encounter(name: str) -> None:
    scenario, plan = planned(name)
    paths = paths_by_mover(scenario)
    assert any(mover.pieces for mover in plan.movers.values())
    for mover_name, mover in plan.movers.items():
        gates = gates_of(mover_name, plan, paths[mover_name])
        if not mover.pieces:
            assert gates == ()
            continue
        assert 2 <= len(gates) <= 4
        times = [gate.time_s for gate in gates]
        assert times == sorted(times)
        for gate in gates:
            assert gate.speed_mps == motion_of(mover).state(gate.time_s).speed_mps
        met = [one.time_s for one in plan.encounters.values() if mover_name in (one.of, one.with_)]
        missed = [t for t in met[:4] if min(abs(t - gate) for gate in times) >= 1e-6]
        assert missed == []


def _gates_with(text: str) -> tuple[Gate, ...]:
    """Gates of the subject of a scenario written as text."""
    scenario = loads(text, "named.yaml", FOLDER)
    return gates_of("subject", timing_of(scenario), paths_by_mover(scenario)["subject"])


def test_gates_are_the_same_whatever_the_author_calls_the_phases() -> None:
    text = (FOLDER / "walker-nearside.yaml").read_text(encoding="utf-8")
    ramp, stop = "- ramp: {to: $test_speed}", "- stop: {brake: 5 m/s2}"
    assert ramp in text
    assert stop in text
    named = text.replace(ramp, f"- name: speed-up\n        {ramp[2:]}")
    named = named.replace(stop, f"- name: ramp-down\n        {stop[2:]}")
    scenario, plan = planned("walker-nearside")
    usual = gates_of("subject", plan, paths_by_mover(scenario)["subject"])
    gates = _gates_with(named)
    assert [gate.time_s for gate in gates] == pytest.approx([gate.time_s for gate in usual])
    assert [gate.what for gate in gates] == [
        gate.what.replace("end of ramp", "end of speed-up") for gate in usual
    ]


def test_state_goes_through_every_event_of_the_plan() -> None:
    _, plan = planned("two-encounters")
    assert len(plan.movers) == 3
    for mover in plan.movers.values():
        assert mover.events
        for event in mover.events:
            state = motion_of(mover).state(event.time_s)
            assert abs(state.station_m - event.station_m) < 1e-6
        rest = motion_of(mover).state(motion_of(mover).end_s + 10.0)
        assert rest.speed_mps == 0.0


def test_hostile_title_stays_text_on_the_sheet() -> None:
    scenario, plan = planned("walker-nearside")
    evil = "<img src=x onerror=alert(1)></title><script>alert(2)</script>"
    text = sheet_of(scenario, replace(plan, title=evil), paths_by_mover(scenario))
    assert "<img" not in text
    assert "<script" not in text
    assert html.escape(evil) in text


def test_of_a_contact_the_clock_and_the_tapes_tell_the_same_point() -> None:
    _, plan = planned("walker-nearside")
    words = _words(sheet("walker-nearside"))
    (met,) = (one for one in plan.encounters.values() if one.touches)
    assert met.place is not None
    x_m, y_m = met.place
    assert f"impact point {x_m:.2f} / {y_m:.2f}" in words
    start = plan.movers[met.of].start
    assert f"{met.of} to the impact point" in words
    assert f"{x_m - start.x_m:.3f} {y_m - start.y_m:.3f}" in words


def test_the_edge_of_the_ground_is_explained_where_there_is_one() -> None:
    told = {name: "edge of the ground" in sheet(name) for name in GOOD}
    drawn = {name: planned(name)[0].site is not None for name in GOOD}
    assert told == drawn
    assert set(told.values()) == {True, False}
