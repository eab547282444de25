"""What a day tells first: whether it fits, what is left out of it, and what its plans warn of."""

from types import SimpleNamespace
from typing import Any, cast

import pytest

from choreo.campaigns.day_told import _headline, _left_out, _stagings, _warnings
from choreo.campaigns.staging.records import Mark, Staging
from choreo.campaigns.whole_day import CampaignDay
from choreo.plans.message import Message
from choreo.report.sections import Notes, Table


def _day(out: int, **kept: Any) -> CampaignDay:
    plan = SimpleNamespace(left={}, too_long={}, cautious_end_s=36_000.0, jobs=())
    plan.spec = SimpleNamespace(days=1)
    variants = {0: SimpleNamespace(name="near/a"), 2: SimpleNamespace(name="near/c")}
    day = SimpleNamespace(plan=plan, variants=variants, left_out=(None,) * out, stagings=None)
    return cast("CampaignDay", SimpleNamespace(**{**vars(day), **kept}))


@pytest.mark.parametrize(("out", "told"), [(0, "FITS"), (24, "FITS, 24 LEFT OUT")])
def test_a_day_that_fits_says_first_how_many_variants_it_is_without(out: int, told: str) -> None:
    assert _headline(_day(out)) == ("feasible", told)


def test_warnings_of_plans_are_told_once_a_kind_and_all_of_them_in_full() -> None:
    beyond = "space.failsafe-beyond"
    plans = {
        0: (Message(beyond, "warning", "0.5 m beyond", "Longer", None),),
        2: (
            Message(beyond, "warning", "0.7 m beyond", "Longer", None),
            Message("plan.note", "note", "well", "", None),
        ),
    }
    day = _day(0, plan_of=lambda index: SimpleNamespace(warnings=plans[index]))
    (few,) = _warnings(day, full=False)
    (every,) = _warnings(day, full=True)
    assert isinstance(few, Notes)
    assert isinstance(every, Notes)
    assert few.lines == ("near/a and 1 more: 0.5 m beyond. Longer",)
    assert every.lines == ("near/a: 0.5 m beyond. Longer", "near/c: 0.7 m beyond. Longer")
    assert _warnings(_day(0, plan_of=lambda _: SimpleNamespace(warnings=())), full=True) == []


def test_reasons_are_told_once_wherever_their_variants_stand() -> None:
    left = [
        SimpleNamespace(reason=reason, variant=SimpleNamespace(name=name))
        for name, reason in (("a", "too short"), ("b", "never meet"), ("c", "too short"))
    ]
    (notes,) = _left_out(_day(0, left_out=left), full=False)
    assert isinstance(notes, Notes)
    assert notes.lines == ("a and 1 more: too short", "b: never meet")


def test_what_stands_has_no_station() -> None:
    stands = {"subject": None, "parked": (700.0, 0.0, 0.0)}
    movers = {name: SimpleNamespace(stand=stand) for name, stand in stands.items()}
    member = SimpleNamespace(case=SimpleNamespace(scenario=SimpleNamespace(movers=movers)))
    marks = {name: Mark(0.0, 700.0, 0.0, 0.0) for name in stands}
    stagings = SimpleNamespace(stagings=[Staging(marks, (2,))], unsure=0)
    (table,) = _stagings(_day(0, stagings=stagings, members={2: member}))
    assert isinstance(table, Table)
    assert [row[3] for row in table.rows] == ["0.000", "-"]
