"""How much of each source is allowed: against the normal distribution, where the impact moves as the source does."""

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from choreo.case import answer, case_at
from choreo.errors.allocation import allowed
from choreo.errors.sources import sources_of
from choreo.errors.stage import Stage, stage_of
from choreo.plans.errors_record import SourceTold
from choreo.report.allowed import allowed_sections
from choreo.report.sections import Table
from choreo.scenario import ErrorSource, Spread, load

RUNS = 2048
# A normal number is within this many standard deviations in 95 % of cases.
WITHIN = 1.959964


@cache
def staged() -> Stage:
    case = case_at(load(Path("scenarios/walker-nearside.yaml")), None)
    return stage_of(case.scenario, case.paths, answer(case).plan)


def sources(*sizes: float) -> tuple[ErrorSource, ...]:
    """The car beside its path and the walker off its mark: both move the impact by themselves."""
    owners = (("path offset", "subject"), ("start along", "walker"))
    errors = tuple(
        ErrorSource(kind, owner, Spread("normal", 0.0, size))  # type: ignore[arg-type]
        for (kind, owner), size in zip(owners, sizes, strict=True)
    )
    fast = {key: replace(one, sampling_hz=1e6) for key, one in staged().scenario.triggers.items()}
    scenario = replace(staged().scenario, errors=errors, triggers=fast)
    return tuple(one for one in sources_of(scenario, only_given=True) if one.kind != "sampling")


def _told(given: tuple[ErrorSource, ...]) -> tuple[SourceTold, ...]:
    return tuple(
        SourceTold(one.kind, one.owner, "m", "normal", 0.0, one.spread.size, 0.0, None, True)
        for one in given
    )


def test_what_is_allowed_is_the_tolerance_over_the_quantile() -> None:
    tolerance_m = 0.05
    told = allowed(staged(), sources(0.02, 0.01), 0.95, RUNS, 1)
    by = {one.source: one for one in told.sources}
    alone = tolerance_m / WITHIN
    assert [by[i].now for i in (0, 1)] == [0.02, 0.01]
    assert [by[i].alone for i in (0, 1)] == pytest.approx([alone, alone], rel=0.07)
    # Beside the other one the squares share what there is.
    beside = [(alone**2 - other**2) ** 0.5 for other in (0.01, 0.02)]
    assert [by[i].beside for i in (0, 1)] == pytest.approx(beside, rel=0.1)
    assert told.factor == pytest.approx(alone / (0.02**2 + 0.01**2) ** 0.5, rel=0.07)
    assert [one.source for one in told.sources] == [0, 1]


def test_one_that_is_too_large_leaves_nothing_for_the_others() -> None:
    told = allowed(staged(), sources(0.05, 0.01), 0.95, RUNS, 1)
    by = {one.source: one for one in told.sources}
    assert by[1].beside == 0.0
    assert told.factor < 1.0
    assert told.chance_ratio == pytest.approx(0.67, abs=0.03)
    table, note = allowed_sections(told, _told(sources(0.05, 0.01)))
    assert isinstance(table, Table)
    assert table.rows[1][2] == "not enough if perfect"
    assert "must be multiplied by" in note.lines[0]  # type: ignore[union-attr]
