"""Only the newest counts, for what is planned and for what pages get; pages that say nonsense change nothing."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import Any

import pytest

from choreo.live.session import Session
from choreo.live.slider import Slider

SPEED = Slider("walker speed", "km/h", 5.0, 0.1, -40, 50, "a.yaml:3:4")
SAME_PLACE = Slider("walking_speed", "km/h", 5.0, 0.1, -40, 50, "a.yaml:3:4")
LATENCY = Slider("latency", "s", 0.06, 0.01, -6, 50, "a.yaml:9:4")
GOOD = {
    "picture": {"screen": "good"}, "verdict": "feasible", "faults": [], "files": ["a.yaml"], "refused": [],
    "picked": [asdict(SPEED)], "offered": [asdict(one) for one in (SPEED, SAME_PLACE, LATENCY)], "seconds": 0.1,
}  # fmt: skip
FAULT = {"place": "a.yaml, line 3", "text": "no unit", "advice": "Write km/h."}
FAULTY = {"faults": [FAULT], "files": ["a.yaml"], "seconds": 0.1}
SAVED = {"do": "saved"}


class Page:
    """A page that says that it has drawn what it got when it is asked to."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self.got: list[dict[str, Any]] = []
        session.joined(self)

    def send(self, text: str) -> None:
        self.got.append(json.loads(text))

    def says(self, **message: object) -> None:
        self.session.heard(self, message)

    @property
    def state(self) -> dict[str, Any]:
        """What it was told last, after it has drawn all there was."""
        self.says(do="drawn")
        self.says(do="drawn")
        found: dict[str, Any] = self.got[-1]["state"]
        return found


@pytest.fixture
def session() -> Session:
    made = Session("a.yaml", lambda: None, lambda _files: None, lambda _line: None)
    made.saved()
    made.wanted.take()
    made.answered(SAVED, GOOD)
    return made


def test_of_many_moves_the_last_is_planned(session: Session) -> None:
    page = Page(session)
    for value in (5.1, 5.2, 5.3):
        page.says(do="move", name="walker speed", value=value)
    assert session.wanted.take() == {"do": "what-if", "shown": {"walker speed": 5.3}}
    assert session.wanted.take() is None
    page.says(do="move", name="walker speed", value=5.4)
    page.says(do="reset")
    assert session.wanted.take() == {"do": "what-if", "shown": {}}


def test_a_slow_page_gets_the_newest_picture_and_no_other(session: Session) -> None:
    page = Page(session)
    other = Page(session)
    assert [one["picture"] for one in page.got] == [{"screen": "good"}]
    for name in ("second", "third"):
        job = {"do": "what-if", "shown": {"walker speed": 5.1}}
        session.answered(job, {**GOOD, "picture": {"screen": name}})
    assert len(page.got) == 1
    page.says(do="drawn")
    other.says(do="drawn")
    assert [one["picture"]["screen"] for one in page.got] == ["good", "third"]
    assert [one["picture"]["screen"] for one in other.got] == ["good", "third"]
    assert page.state["drawn"] == {"walker speed": 5.1}
    page.says(do="drawn")
    assert len(page.got) == 2, "nothing new, nothing sent"


def test_what_is_known_first_goes_to_pages_that_keep_up(session: Session) -> None:
    quick, slow = Page(session), Page(session)
    quick.says(do="drawn")
    for end in (10.4, 10.5, 10.6):
        session.glimpsed({"end": end})
    # Until a page has drawn one, it gets no other, and then only the newest.
    assert [one.get("first") for one in quick.got[1:]] == [{"end": 10.4}]
    assert len(slow.got) == 1
    quick.says(do="drawn")
    slow.says(do="drawn")
    assert quick.got[-1] == slow.got[-1] == {"first": {"end": 10.6}}
    # What is known of a plan whose whole picture there is, or whose file was saved since, is never drawn after it.
    session.glimpsed({"end": 10.7})
    session.answered({"do": "what-if", "shown": {"walker speed": 5.1}}, GOOD)
    quick.says(do="drawn")
    quick.says(do="drawn")
    assert "picture" in quick.got[-1]
    session.glimpsed({"end": 10.8})
    session.saved()
    slow.says(do="drawn")
    slow.says(do="drawn")
    assert [one["first"] for one in slow.got if "first" in one] == [{"end": 10.6}]


@pytest.mark.parametrize(
    "message",
    [
        "move",
        {"do": "move", "name": "walker speed", "value": 99.0},
        {"do": "move", "name": "walker speed", "value": float("nan")},
        {"do": "move", "name": "walker speed", "value": True},
        {"do": "move", "name": "walker speed", "value": "5"},
        {"do": "move", "name": "latency", "value": 0.07},
        {"do": "move", "name": ["walker speed"], "value": 5.1},
        {"do": "pick", "name": "nobody"},
        {"do": "pick", "name": "walking_speed"},
        {"do": "drop", "name": "latency"},
        {"do": "write"},
        {"do": "reset"},
        {},
    ],
)
def test_what_makes_no_sense_changes_nothing(session: Session, message: object) -> None:
    page = Page(session)
    before = page.state
    session.heard(page, message)
    assert session.wanted.take() is None
    assert page.state == before


def test_sliders_are_picked_and_dropped_and_no_place_has_two(session: Session) -> None:
    page = Page(session)
    assert page.state["offered"] == ["latency"]
    page.says(do="pick", name="latency")
    assert [one["name"] for one in page.state["sliders"]] == ["walker speed", "latency"]
    page.says(do="move", name="latency", value=0.07)
    page.says(do="drop", name="latency")
    assert session.wanted.take() == {"do": "what-if", "shown": {}}
    page.says(do="pick", name="latency")
    # It stays with the next save, as the file has it then.
    session.answered(SAVED, {**GOOD, "offered": [asdict(SPEED), asdict(LATENCY) | {"value": 0.1}]})
    assert [one["value"] for one in page.state["sliders"]] == [5.0, 0.1]
    session.answered(SAVED, {**GOOD, "offered": [asdict(SPEED)]})
    assert [one["name"] for one in page.state["sliders"]] == ["walker speed"]


def test_a_save_takes_sliders_back_and_leaves_nothing_to_write(session: Session) -> None:
    page = Page(session)
    page.says(do="move", name="walker speed", value=5.1)
    page.says(do="write")
    session.saved()
    assert session.wanted.take() == {"do": "saved"}
    assert session.wanted.take() is None
    assert page.state["what_if"] == {}
    assert page.state["note"] == "Not written: the file was saved meanwhile."


def test_a_faulty_file_leaves_its_last_plan_and_says_that_it_is_old(session: Session) -> None:
    page = Page(session)
    tried = {"do": "what-if", "shown": {"walker speed": 5.1}}
    session.answered(tried, {**GOOD, "picture": {"screen": "tried"}})
    session.answered(SAVED, FAULTY)
    state = page.state
    assert (state["old"], state["faults"], state["drawn"]) == (True, [FAULT], {})
    assert page.got[-1]["picture"] == {"screen": "good"}, "what the file was, not what was tried"
    session.answered(SAVED, GOOD)
    assert page.state["old"] is False


def test_without_any_plan_nothing_is_old() -> None:
    session = Session("a.yaml", lambda: None, lambda _files: None, lambda _line: None)
    page = Page(session)
    session.answered(SAVED, FAULTY)
    assert page.state["old"] is False
    assert page.got[-1]["picture"] is None
    session.died()
    assert page.state["faults"][0]["text"] == "planning ended by a fault of this program"


def test_what_a_process_was_at_when_it_ended_is_asked_again_after_the_file(
    session: Session,
) -> None:
    session.wanted.again({"do": "what-if", "shown": {"walker speed": 5.1}})
    session.wanted.again({"do": "write", "shown": {"walker speed": 5.1}})
    jobs = [session.wanted.take() for _ in range(4)]
    assert [job and job["do"] for job in jobs] == ["saved", "write", "what-if", None]
