"""How answers are laid out: on 80 columns as tables, on 20 with every number whole; long lists behind --all."""

import io
import re
from dataclasses import replace

import pytest
from rich.console import Console

from choreo.plans.message import Message
from choreo.plans.record import Plan
from choreo.report import content_of, print_content
from choreo.report.crew import MOST_ROWS, distances_table
from choreo.report.sections import Notes, Table
from choreo.scenario import Scenario
from tests.unit.page.shown import planned

NUMBER = re.compile(r"[+-]?\d+\.\d+")


def printed(scenario: Scenario, plan: Plan, width: int) -> str:
    stream = io.StringIO()
    console = Console(width=width, file=stream, highlight=False, markup=False, emoji=False)
    print_content(content_of(scenario, plan), console)
    return stream.getvalue()


@pytest.mark.parametrize("name", ["braking-lead-bumper-gap", "walker-nearside", "two-encounters"])
def test_on_80_columns_every_table_stays_one(name: str) -> None:
    scenario, plan = planned(name)
    text = printed(scenario, plan, 80)
    assert max(map(len, text.splitlines())) <= 80
    # A block instead of a table has its heads at the left: `after go, s    10.408`.
    assert not re.search(r"^ +(after go|closing|station), ", text, re.MULTILINE)


@pytest.mark.parametrize(
    "name", ["braking-lead-bumper-gap", "impossible/runway-too-short-for-the-trigger"]
)
def test_on_20_columns_nothing_is_lost_and_no_number_is_broken(name: str) -> None:
    scenario, plan = planned(name)
    narrow, wide = printed(scenario, plan, 20), printed(scenario, plan, 200)
    assert max(map(len, narrow.splitlines())) <= 20
    assert sorted(NUMBER.findall(narrow)) == sorted(NUMBER.findall(wide))


def test_long_lists_end_with_how_many_more_there_are() -> None:
    _, plan = planned("braking-lead-bumper-gap")
    assert plan.crew is not None
    many = replace(plan.crew, distances=plan.crew.distances * (MOST_ROWS + 7))
    (short,), (whole,) = distances_table(many, full=False), distances_table(many, full=True)
    assert isinstance(short, Table)
    assert isinstance(whole, Table)
    assert (len(short.rows), len(whole.rows)) == (MOST_ROWS, MOST_ROWS + 7)
    assert short.title.endswith("; 7 more with --all")


def test_warnings_with_the_same_words_stand_once_with_all_their_places() -> None:
    scenario, plan = planned("walker-nearside")
    bend = Message("problem.curvature-jump", "warning", "It jumps", "Smooth it.", "a.yaml:3:1")
    two = replace(plan, warnings=(bend, replace(bend, place="a.yaml:9:1"), bend))
    (notes,) = (one for one in content_of(scenario, two).sections if one.key == "warnings")
    assert isinstance(notes, Notes)
    assert notes.lines == ("a.yaml:3:1, a.yaml:9:1: It jumps. Smooth it.",)


def test_the_solvers_own_words_and_the_whole_caution_are_for_those_who_ask() -> None:
    scenario, plan = planned("walker-nearside")
    lost = replace(plan, verdict="undecided", tried=("from a guess with holds x0.3: failed",))

    def lines(**asked: bool) -> str:
        return "\n".join(
            "\n".join(one.lines)
            for one in content_of(scenario, lost, **asked).sections
            if isinstance(one, Notes)
        )

    assert "from a guess" not in lines(full=True)
    assert "from a guess" in lines(verbose=True)
    assert "Not modelled" not in lines()
    assert "choreo guide guarantees" in lines()
    assert "Not modelled" in lines(full=True)
