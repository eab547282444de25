"""Ways of releasing a mover compared: closed forms of one error at a time, on the same runs."""

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from choreo.case import Case, answer, case_at
from choreo.errors.releases import Drawing, releases_of
from choreo.plans.record import Plan
from choreo.plans.releases_record import Release, Releases
from choreo.report.releases import releases_sections
from choreo.report.sections import Notes, Table
from choreo.scenario import ErrorSource, Spread, load
from choreo.words.kinds import ErrorKind

RUNS = 2048
KMH = 1 / 3.6


@cache
def planned(name: str) -> tuple[Case, Plan]:
    case = case_at(load(Path(f"scenarios/{name}.yaml")), None)
    return case, answer(case).plan


def compared(name: str, kind: ErrorKind, owner: str, size: float) -> Releases:
    """With one error alone, and no others assumed."""
    case, plan = planned(name)
    source = ErrorSource(kind, owner, Spread("normal", 0.0, size))
    fast = {key: replace(one, sampling_hz=1e6) for key, one in case.scenario.triggers.items()}
    scenario = replace(case.scenario, errors=(source,), triggers=fast)
    (found,) = releases_of(scenario, case.paths, plan, Drawing(RUNS, 1), only_given=True)
    return found


def ways(found: Releases) -> dict[str, Release]:
    return {one.name: one for one in found.ways}


def test_a_speed_held_wrong_moves_what_a_station_releases_and_not_what_its_measured_speed_does() -> (
    None
):
    size = 0.1 * KMH
    found = compared("walker-nearside", "speed held", "subject", size)
    of = ways(found)
    plan = planned("walker-nearside")[1]
    left_m = plan.triggers["step_out"].setting * 40 * KMH
    # u d e / v2, to first order; the encounter's place is drawn 2048 times: a hundredth or two off.
    wanted = 5 * KMH * left_m * size / (40 * KMH) ** 2
    assert of["station"].spread == pytest.approx(wanted, rel=0.05)
    assert of["distance"].spread == pytest.approx(of["station"].spread, rel=1e-6)
    assert of["time to collision"].spread == pytest.approx(0.0, abs=1e-4)
    assert of["in step"].spread == pytest.approx(0.0, abs=1e-3)
    # From go on the car is early or late on all of its way at speed, and half of the ramp's at the same rate.
    assert of["time"].spread is not None
    assert of["time"].spread > of["station"].spread  # type: ignore[operator]
    assert (of["speed"].why_not, of["speed"].chance) == ("subject holds its speed then", None)
    assert of["time to collision"].own
    assert found.ways[-1].name == "speed"


def test_a_mark_moves_what_the_clock_releases_by_the_time_that_its_way_takes() -> None:
    of = ways(compared("walker-nearside", "start along", "subject", 0.2))
    assert of["time"].spread == pytest.approx(0.2 * 5 / 40, rel=0.05)
    for name in ("station", "distance", "time to collision", "in step"):
        assert of[name].spread == pytest.approx(0.0, abs=1e-3)


def test_one_that_goes_in_step_is_compared_with_triggers_at_the_same_moment() -> None:
    found = compared("walker-in-step", "start along", "subject", 0.2)
    of = ways(found)
    plan = planned("walker-in-step")[1]
    assert of["in step"].own
    one = plan.movers["walker"].in_step
    assert one is not None
    assert of["time"].setting == pytest.approx(one.begins_s - 0.03 - 0.005)
    assert of["time"].spread == pytest.approx(0.2 * 5 / 40, rel=0.05)
    assert found.loss_ratio == pytest.approx(0.0)
    assert len(releases_sections((found,))) == 2


def test_what_the_own_way_costs_is_told() -> None:
    case, plan = planned("walker-nearside")
    (found,) = releases_of(case.scenario, case.paths, plan, Drawing(RUNS, 1))
    table, note = releases_sections((found,))
    assert isinstance(table, Table)
    assert isinstance(note, Notes)
    assert table.rows[0][0] == "in step"
    assert "time to collision, as it is written, costs" in note.lines[0]
    assert found.loss_ratio > 0.1
    (none,) = releases_sections(())
    assert isinstance(none, Notes)
