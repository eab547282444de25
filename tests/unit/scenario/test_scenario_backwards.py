"""A mover that drives backwards: its rear leads, and what is written and told of it is of its own body."""

from pathlib import Path

import pytest

from choreo.case import answer
from choreo.case.record import case_of
from choreo.case.whole import whole_answer
from choreo.report.marks import places_of
from choreo.scenario import load, loads
from choreo.words import ChoreoError
from tests.unit.scenario.example import WALKER

FILE = Path(__file__).parents[3] / "scenarios" / "reversing-car.yaml"
# The path leads north, the car points south: what stands to the east is on its left.
EAST_M = 0.45


def contact_of(text: str) -> tuple[str, float, str]:
    scenario = loads(text, str(FILE), FILE.parent)
    contact = scenario.encounters["contact"]
    return contact.face, contact.impact_m, contact.point


def test_shares_and_offsets_are_those_of_the_body_and_lie_mirrored_on_its_way() -> None:
    text = FILE.read_text("utf-8")
    assert contact_of(text) == ("front", pytest.approx(-EAST_M), "reference")
    assert contact_of(text.replace("overlap: 75 %", "offset: 0.45 m"))[1] == -EAST_M
    side = contact_of(text.replace("overlap: 75 %", "side: 25 %"))
    assert side[:2] == ("side", pytest.approx(0.75 * 4.3))
    turned = text.replace("of: subject, with: walker", "of: walker, with: subject")
    assert (
        contact_of(turned.replace("overlap: 75 %", "overlap: 50 %, point: rear centre"))[2]
        == "front centre"
    )


def test_body_points_the_other_way() -> None:
    body = load(FILE).movers["subject"].body
    ends = (body.front_m, body.rear_m, body.nose_m)
    assert ends == pytest.approx((0.9, 3.4, 3.4))
    assert max(x for x, _ in body.corners_m) == pytest.approx(0.9)
    for share in (0.0, 0.3, 1.0):
        there = body.overlap_of_offset(body.offset_of_overlap(share))
        assert there == pytest.approx(share)
        assert body.side_of_from_rear(body.from_rear_of_side(share)) == pytest.approx(share)


def test_plan_tells_its_own_heading_at_the_mark_and_at_a_trigger() -> None:
    case = case_of(load(FILE))
    plan = answer(case).plan
    assert plan.verdict == "feasible"
    start = plan.movers["subject"].start
    assert start.heading_deg % 360 == pytest.approx(270.0)
    assert plan.movers["subject"].backwards
    (mark, *_) = places_of(plan, case.paths)
    assert mark.heading_deg == pytest.approx(-90.0)
    # The walker stands on the car's left, which is 75 % of its rear, at its 16 m less half a body.
    assert plan.encounters["contact"].place == pytest.approx((EAST_M, 19.75))


def test_negative_speeds_are_refused_with_what_to_write() -> None:
    for old, new in (("to: 40 km/h", "to: -40 km/h"), ("station: free", "speed: -5 km/h")):
        text = WALKER.replace(old, new, 1)
        assert text != WALKER
        with pytest.raises(ChoreoError) as caught:
            loads(text, "a.yaml", Path())
        told = [f"{one.text} {one.advice}" for one in caught.value.findings]
        assert any("`drive: backwards`" in one for one in told)


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("drive: backwards", "drive: back", "`back` is no way to drive"),
        ("    kind: pedestrian\n", "    kind: pedestrian\n    drive: backwards\n", "`drive`"),
    ],
)
def test_faults(old: str, new: str, told: str) -> None:
    text = FILE.read_text("utf-8")
    assert old in text
    with pytest.raises(ChoreoError) as caught:
        loads(text.replace(old, new), str(FILE), FILE.parent)
    assert any(told in one.text for one in caught.value.findings)


PARKS = FILE.with_name("parks-backwards.yaml")


def test_one_that_turns_back_is_told_its_way_phase_by_phase() -> None:
    plan = whole_answer(load(PARKS)).plan
    assert plan.verdict == "feasible"
    subject = plan.movers["subject"]
    assert subject.start.heading_deg % 360 == pytest.approx(0.0)
    assert subject.turns_m == pytest.approx((30.0,))
    assert not subject.backwards_at(29.0)
    assert subject.backwards_at(30.0)
    # The middle of its rear, from the child's side on: it has come to a stop and gone back.
    assert plan.encounters["contact"].place == pytest.approx((15.2, -2.4))
    assert plan.crew is not None
    legs = {one.phase: one for one in plan.crew.programmes["subject"].legs}
    assert [one.backwards for one in legs.values()] == [False] * 3 + [True] * 4
    assert legs["stop"].ends.x_m == pytest.approx(30.0)
    assert {one.moment for one in plan.crew.distances} == set()


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("    path: parking\n", "    path: parking\n    drive: backwards\n", "exclude each other"),
        ("to: 6 km/h, ", "to: 6 km/h, drive: backwards, ", "`drive` is not known"),
        ("    pieces:\n", "    closed: yes\n    pieces:\n", "exclude each other"),
    ],
)
def test_faults_of_turning_back(old: str, new: str, told: str) -> None:
    text = PARKS.read_text("utf-8")
    assert old in text
    with pytest.raises(ChoreoError) as caught:
        loads(text.replace(old, new), str(PARKS), PARKS.parent)
    assert any(told in one.text for one in caught.value.findings)
