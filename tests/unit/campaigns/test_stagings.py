"""Stagings of real variants: shared marks, every variant planned and verified from them, honest bounds."""

from collections.abc import Callable
from functools import cache

import pytest

from choreo.campaigns.needed_room import rectangles, runways
from choreo.campaigns.staging.member import Member
from choreo.campaigns.staging.planning import planned
from choreo.campaigns.staging.search import fewest_stagings
from choreo.campaigns.staging.standing import (
    moved_by_sights,
    standing_round,
    standing_together,
)
from choreo.case import answer_with_sights, case_of, whole_answer
from choreo.scenario import loads
from choreo.verification import verify
from tests.places import ROOT

FOLDER = ROOT / "scenarios"


@cache
def _text(name: str) -> str:
    return (FOLDER / f"{name}.yaml").read_text()


def _members(name: str, changes: list[Callable[[str], str]]) -> list[Member]:
    found = []
    for index, change in enumerate(changes):
        scenario = loads(change(_text(name)), "a.yaml", FOLDER)
        answer = whole_answer(scenario)
        assert answer.clear
        found.append(Member(index, case_of(scenario), answer.plan))
    return found


def _put(*pairs: tuple[str, str]) -> Callable[[str], str]:
    def change(text: str) -> str:
        for old, new in pairs:
            assert old in text
            text = text.replace(old, new)
        return text

    return change


def test_walkers_at_all_speeds_start_from_one_staging() -> None:
    speeds = (20, 40, 60)
    members = _members(
        "walker-nearside", [_put(("speed: 40 km/h", f"speed: {speed} km/h")) for speed in speeds]
    )
    found = fewest_stagings(members)
    assert [one.variants for one in found.stagings] == [(0, 1, 2)]
    assert found.at_least == 1
    mark = found.stagings[0].marks["subject"]
    # The fastest one needs the longest run-up; its mark is rounded down to whole metres.
    assert mark.station_m == members[2].starts["subject"] // 1.0
    for index, member in enumerate(members):
        plan = found.plans[index]
        assert plan.movers["subject"].start.station_m == mark.station_m
        assert plan.movers["walker"].start.station_m == 0.0
        assert verify(member.case.scenario, member.case.paths, plan).agrees
    ways = {one.mover: one for one in runways(dict(enumerate(members)), found.plans)}
    assert ways["subject"].from_m == mark.station_m
    assert ways["subject"].last == 2
    (rectangle,) = rectangles(dict(enumerate(members)), found.plans, "subject")
    assert {one.name for one in rectangle.sides} == {"ahead", "behind", "left", "right"}
    assert rectangle.length_m > ways["subject"].length_m


def test_marks_from_which_a_file_makes_no_sense_are_none() -> None:
    """A mark beside the walker's way: whoever stands there is met before anybody moves."""
    (member,) = _members("walker-nearside", [lambda text: text])
    assert planned(member, {"subject": 450.0, "walker": 0.0}) is None
    assert planned(member, {"subject": 5_000.0, "walker": 0.0}) is None


def test_a_mark_that_is_written_differently_takes_another_staging() -> None:
    # The lead stands where the file says: 400 m or 420 m, which no single staging serves.
    members = _members("slower-lead", [_put(), _put(("station: 400 m", "station: 420 m"))])
    found = fewest_stagings(members)
    assert [one.variants for one in found.stagings] == [(0,), (1,)]
    assert found.at_least == 2
    # Who shares its marks with nobody stands at whole metres too.
    starts = [one.marks["subject"].station_m for one in found.stagings]
    assert starts == [member.starts["subject"] // 1.0 for member in members]
    assert starts != [member.starts["subject"] for member in members]


def test_another_path_is_another_layout() -> None:
    members = _members("slower-lead", [_put()]) + _members("walker-nearside", [_put()])
    members[1].index = 1
    found = fewest_stagings(members)
    assert [set(one.marks) for one in found.stagings] == [
        {"subject", "lead"},
        {"subject", "walker"},
    ]
    assert found.at_least == 2


def test_marks_near_another_car_are_given_up_for_marks_that_work() -> None:
    """The latest mark is right behind the lead, from where nobody gets going: one farther back serves both."""
    members = _members(
        "lead-brakes-at-a-gap",
        [_put(("headway: 25 m", f"headway: {metres} m")) for metres in (12, 40)],
    )
    found = fewest_stagings(members)
    assert [one.variants for one in found.stagings] == [(0, 1)]
    assert [found.plans[index].verdict for index in (0, 1)] == ["feasible", "feasible"]


def test_what_a_sight_moves_stands_at_a_round_place_from_where_it_is_still_as_wanted() -> None:
    scenario = loads(_text("child-seen-late"), "a.yaml", FOLDER)
    case = case_of(scenario)
    answer, sights = answer_with_sights(case)
    assert sights[0].x_m != pytest.approx(round(sights[0].x_m or 0.0, 1), abs=1e-3)
    stood, plan = standing_round(case, answer.plan)
    stand = stood.scenario.movers["front_van"].stand
    assert stand is not None
    assert stand[0] == round(sights[0].x_m or 0.0, 1)
    assert plan.space is not None
    assert plan.space.sights[0].within
    assert plan.space.sights[0].to_collision_s == pytest.approx(1.2, abs=0.02)
    # Nothing moves it from there when the same run is planned from other marks.
    assert Member(0, stood, plan).planned_at({"subject": 380.0}).plan.space is not None
    assert stood.scenario.sights["child_seen"].moving is None
    assert plan.fingerprint == answer.plan.fingerprint


def test_what_sights_move_stands_together_where_all_is_seen_as_wanted() -> None:
    members = []
    for index, speed in enumerate(("30 km/h", "40 km/h", "20 km/h")):
        text = _text("child-seen-late").replace("test_speed: 30 km/h", f"test_speed: {speed}")
        scenario = loads(text, "a.yaml", FOLDER)
        case = case_of(scenario)
        stood = standing_round(case, answer_with_sights(case)[0].plan)
        members.append(Member(index, *stood, moved=moved_by_sights(scenario)))
    together = standing_together(members)
    before, after = (
        [one.case.scenario.movers["front_van"].stand for one in some]
        for some in (members, together)
    )
    assert len(set(before)) == 3
    assert (after[0], after[2]) == (after[1], before[2])
    found = fewest_stagings(together)
    assert [one.variants for one in found.stagings] == [(0, 1), (2,)]
    # Whether the van might not stand somewhere for all three isn't proved.
    assert found.at_least == 1
    seen = [one.within for plan in found.plans.values() if plan.space for one in plan.space.sights]
    assert seen == [True] * 3
