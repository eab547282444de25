"""Ranges of start stations: a plan at both of their ends, none beyond, also where the cost leaves times open."""

import pytest

from choreo.campaigns.staging.member import Member
from choreo.case import case_of, glance, start_range_of, whole_answer
from choreo.case.glances import ends_of
from choreo.linear import NotLinear
from choreo.linear.lanes import Lanes
from choreo.linear.search import Search
from choreo.linear.stage import tracks_of
from choreo.linear.writing import model_of
from choreo.scenario import loads
from choreo.solve.linear import solve_linear
from tests.places import ROOT

FOLDER = ROOT / "scenarios"


def _read(name: str, *changes: tuple[str, str]) -> str:
    text = (FOLDER / f"{name}.yaml").read_text()
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return text


def _member(text: str) -> Member:
    scenario = loads(text, "a.yaml", FOLDER)
    return Member(0, case_of(scenario), whole_answer(scenario).plan)


@pytest.mark.parametrize(
    ("name", "mover"), [("walker-nearside", "subject"), ("cyclist-farside", "cyclist")]
)
def test_a_plan_at_the_ends_and_none_beyond(name: str, mover: str) -> None:
    member = _member(_read(name))
    found = start_range_of(member.case, mover, {}, gentler=False)
    assert found is not None
    low, high = found[0] + 2e-5, found[1] - 2e-5
    assert member.may_run_from({mover: low})
    assert member.may_run_from({mover: high})
    assert not member.may_run_from({mover: high + 0.01})


def test_the_end_of_a_range_inside_a_ramp_is_found() -> None:
    # The lead brakes until the contact: which start is the least says nothing of when the two touch.
    text = _read("lead-brakes-at-a-gap", ("headway: 25 m", "headway: 12 m"), ("300 m", "free"))
    case = case_of(loads(text.replace("speed: 70", "speed: 60"), "a.yaml", FOLDER))
    low, high = start_range_of(case, "lead", {}, gentler=False) or (0.0, 0.0)
    # The lead begins right before the car, whose rear is 4.30 m behind its front: both bodies on the path.
    assert (low, high) == pytest.approx((5.452, 872.58), abs=0.01)


def test_what_a_search_has_dropped_is_not_excluded() -> None:
    # Without the nearest place on the curves, the same search does not come upon the plan that there is.
    text = _read("lead-brakes-at-a-gap", ("headway: 25 m", "headway: 12 m"), ("300 m", "free"))
    case = case_of(loads(text.replace("speed: 70", "speed: 60"), "a.yaml", FOLDER))
    model = model_of(case.staging.problem, tracks_of(case.staging), frozenset())
    Lanes(model, case.staging.paths, ends_of(case)).in_order(0.0)
    search = Search(model, model.courses["lead"].start, solve_linear)
    found = search.run()
    assert found.values is None
    assert search.dropped
    assert not found.complete
    assert found.excluded is None


def test_where_a_speed_is_open_nothing_is_said() -> None:
    case = case_of(loads(_read("highest-speed"), "a.yaml", FOLDER))
    with pytest.raises(NotLinear):
        start_range_of(case, "subject", {}, gentler=False)
    assert glance(case).works is None
