"""What speeds alone prove: two that never come nearer, and a hold through a bend that is too tight for it."""

from pathlib import Path

import pytest

from choreo.case import answer, case_of
from choreo.scenario import load

LANE = """choreo: 1
title: Two in a lane
paths:
  lane: {start: [0 m, 0 m], pieces: [{line: 500 m}]}
movers:
  subject:
    path: lane
    body: {length: 4.5 m, width: 1.85 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    programme: [{ramp: {to: SUBJECT}}, {hold: {settle: 2 s, until: hit}}, {stop: {}}]
  lead:
    path: lane
    body: {length: 4.2 m, width: 1.75 m}
    limits: {speed: 80 km/h, accelerate: 2 m/s2, brake: 5 m/s2}
    programme: [{ramp: {to: 60 km/h}}, {hold: {settle: 2 s, until: hit}}, {stop: {}}]
encounters:
  hit: {kind: contact, of: subject, with: lead, overlap: 50 %}
"""
ROW = """choreo: 1
title: A row of cones
paths:
  row: {course: slalom, start: [0 m, 0 m], spacing: 18 m, count: 8, aside: 1.5 m, run-up: 60 m}
movers:
  subject:
    path: row
    body: {length: 4.5 m, width: 1.85 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2, lateral: 8 m/s2}
    programme:
      - ramp: {to: 60 km/h}
      - hold: {settle: 1 s, settled by: start of subject.gate1, until: end of subject.exit}
      - stop: {}
"""


def answered(tmp_path: Path, text: str):
    file = tmp_path / "one.yaml"
    file.write_text(text)
    return answer(case_of(load(file))).plan


@pytest.mark.parametrize(("speed", "short"), [("50 km/h", 10.0), ("60 km/h", 0.01)])
def test_who_is_no_faster_never_runs_into_the_one_ahead(
    tmp_path: Path, speed: str, short: float
) -> None:
    """60 against 50 km/h leaves -10 km/h to close with; 60 against 60 nothing. Told in km/h."""
    plan = answered(tmp_path, LANE.replace("SUBJECT", speed))
    (budget,) = plan.budgets
    assert plan.verdict == "infeasible"
    assert plan.collisions == ()
    assert (budget.unit, budget.short_by) == ("km/h", pytest.approx(short, abs=1e-9))
    assert "subject is no faster than lead" in budget.title


def test_who_is_a_little_faster_does(tmp_path: Path) -> None:
    assert answered(tmp_path, LANE.replace("SUBJECT", "62 km/h")).verdict == "feasible"


def test_a_row_of_cones_that_is_too_tight_is_told_by_its_radius_and_the_speed_that_works(
    tmp_path: Path,
) -> None:
    """Run-up by hand: 16.667^2 / 6 + 16.667 x 1 s = 62.96 m of 60 m. A bend of 1/R allows sqrt(8 R)."""
    plan = answered(tmp_path, ROW)
    bend = next(one for one in plan.budgets if one.unit == "m/s2")
    run_up = next(one for one in plan.budgets if one.unit == "m")
    assert run_up.short_by == pytest.approx(2.963, abs=1e-3)
    radius = (60 / 3.6) ** 2 / bend.pieces[0].value
    allowed = (8.0 * radius) ** 0.5 * 3.6
    assert f"radius of {radius:.2f} m" in bend.pieces[0].what
    assert f"at most {allowed:.2f} km/h" in bend.pieces[0].what
    slower = ROW.replace("60 km/h", f"{allowed - 0.01:.2f} km/h")
    assert answered(tmp_path, slower).verdict == "feasible"


def test_a_ramp_that_takes_more_way_than_its_within_is_told_so_beside_all_else(
    tmp_path: Path,
) -> None:
    """62 km/h at 3 m/s2 takes 17.222^2 / 6 = 49.43 m, of 40 m."""
    text = LANE.replace("to: SUBJECT", "to: 62 km/h, within: 40 m")
    short = {one.title: one.short_by for one in answered(tmp_path, text).budgets}
    assert short["subject ramp can't keep to its `within`"] == pytest.approx(9.43, abs=0.01)
