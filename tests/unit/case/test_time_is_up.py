"""A plan is looked for as long as patience lasts; then what is known by then is told."""

from __future__ import annotations

from itertools import count
from pathlib import Path

import pytest

from choreo.case import answer, case_at
from choreo.problem.patience import Patience, TimeUp, TriedEnough
from choreo.scenario import loads

TEXT = """
choreo: 1
title: Lead brakes
paths:
  lane: {start: [0 m, 0 m], pieces: [{line: 900 m}]}
movers:
  subject:
    path: lane
    body: {length: 4 m, width: 2 m}
    limits: {speed: 100 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    programme: [ramp: {to: SPEED}, hold: {settle: 2 s, until: hit}]
  lead:
    path: lane
    body: {length: 4 m, width: 2 m}
    limits: {speed: 100 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    programme: [ramp: {to: 50 km/h}, hold: {for: 5 s}, {stop: {}, name: brake}]
encounters:
  apart: {kind: gap, of: subject, with: lead, distance: 20 m, at: start of lead.brake}
  hit: {kind: contact, of: subject, with: lead, overlap: 50 %}
"""


def case_with(speed: str):
    return case_at(loads(TEXT.replace("SPEED", speed), "lead.yaml", Path(".")), None)


def looks(number: int) -> Patience:
    """Patience for so many looks at the clock."""
    ticks = count()
    return Patience(number, clock=lambda: float(next(ticks)))


def test_without_time_nothing_is_known_and_told() -> None:
    found = answer(case_with("50 km/h"), patience=looks(1)).plan
    assert found.verdict == "undecided"
    assert not found.movers
    assert "plan.time-up" in [one.code for one in found.warnings]


def test_what_was_proven_before_the_time_was_up_counts() -> None:
    # No ramp is long enough for it: one mover's budget says so before any search.
    assert answer(case_with("99 km/h"), patience=looks(1)).plan.verdict == "undecided"
    short = TEXT.replace("line: 900 m", "line: 50 m").replace("SPEED", "99 km/h")
    case = case_at(loads(short, "lead.yaml", Path(".")), None)
    assert answer(case, patience=looks(1)).plan.verdict == "infeasible"


def test_with_time_enough_it_is_decided() -> None:
    assert answer(case_with("50 km/h"), patience=looks(100_000)).plan.verdict == "feasible"


def test_a_solver_is_not_begun_when_the_time_is_up() -> None:
    limited = looks(2).limited(lambda x: x)
    assert limited(3) == 3
    with pytest.raises(TimeUp):
        limited(4)


def test_solvers_of_one_number_stop_together() -> None:
    patience = Patience().counted(3)
    one, other = patience.limited(abs), patience.limited(abs)
    assert [one(-1), other(-2), one(-3)] == [1, 2, 3]
    with pytest.raises(TriedEnough):
        other(-4)
