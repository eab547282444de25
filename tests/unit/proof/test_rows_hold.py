"""What a proof leans on holds of every plan: rows of the relaxation and budgets are put to plans that were found."""

from pathlib import Path

import pytest

from choreo.case import answer, case_at, case_of
from choreo.problem import build_staging
from choreo.proof import budgets_of, relaxed_rows
from choreo.proof.relaxed import RelaxedRow, Variable
from choreo.scenario import load, loads
from choreo.solve import Solved, Solvers, solve_staging
from choreo.solve.reading import Reading
from tests.references.scenario_texts import FILE, braking_lead

ROOT = Path(__file__).resolve().parents[3]
FILES = sorted((ROOT / "scenarios").glob("*.yaml"))
# Rows hold to what IPOPT leaves open, in s or m.
OPEN = 1e-5

CROSSING = """\
choreo: 1
title: crossing
paths:
  lane: {start: [0 m, 0 m], heading: 0 deg, pieces: [{line: 2 km}]}
  side: {start: [1 km, -4 m], heading: 90 deg, pieces: [{line: 20 m}]}
movers:
  subject:
    path: lane
    body: {length: 4 m, width: 1.8 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    programme:
      - ramp: {to: 36 km/h}
      - HOLD
  walker:
    path: side
    body: {length: 0.6 m, width: 0.5 m}
    limits: {speed: 10 km/h, accelerate: 2 m/s2, brake: 2 m/s2}
    start: {station: 0 m}
    programme:
      - wait: {for: out}
      - ramp: {to: 5 km/h, RAMP}
      - hold: {until: contact}
triggers:
  out: {watch: subject, when: {WHEN}, to: contact, latency: 60 ms}
encounters:
  contact: {kind: contact, of: subject, with: walker, overlap: 50 %}
instants:
  T0: {before: contact, by: 4 s}
  T1: {before: T0, by: 1 s}
"""


def crossing(
    hold: str = "hold: {settle: 1 s, until: contact}",
    ramp: str = "over: 0.5 m",
    when: str = "time to collision: free",
) -> str:
    """A triggered walker, with parts of it as wanted."""
    return CROSSING.replace("HOLD", hold).replace("RAMP", ramp).replace("WHEN", when)


# 0.72 s of ramp over 0.5 m (half of 5 km/h on average), 3.5 m at 5 km/h, 60 ms of latency, 5 ms of detection.
EXACTLY_S = 0.72 + 2.52 + 0.065
TEXTS = {
    "time gap, faster": braking_lead("60 km/h", "time gap: 1 s", "brake: 4 m/s2", lead_speed="30 km/h"),
    "time gap, slower": braking_lead("50 km/h", "time gap: 1 s", "brake: 4 m/s2", lead_speed="60 km/h"),
    "distance": braking_lead("60 km/h", "distance: 20 m", "brake: 6 m/s2", lead_speed="50 km/h"),
    "gap in a range": braking_lead("60 km/h", "time gap: 0.8..1.4 s", "brake: 4 m/s2", lead_speed="50 km/h"),
    "settled by an instant": crossing("hold: {settle: 2 s, settled by: T0, until: contact}"),
    "settled by an instant before another": crossing("hold: {settle: 2 s, settled by: T1, until: contact}"),
    "just enough time": crossing(when=f"time to collision: {EXACTLY_S} s"),
    "just enough way": crossing(when=f"distance: {10 * EXACTLY_S} m"),
    "enough time in a range": crossing(when="time to collision: 2..5 s"),
    "a ramp of a time": crossing(ramp="lasting: 2 s"),
    "a given time": crossing(when="time: 30 s"),
}  # fmt: skip


def values_of(reading: Reading) -> dict[Variable, float]:
    """Give the values that a plan gives the relaxation's variables."""
    values = {}
    for name, mover in reading.movers.items():
        values[Variable("station", name, 0)] = mover.start_m
        values[Variable("time", name, 0)] = mover.launch_s
        for boundary, phase in enumerate(mover.phases, 1):
            values[Variable("station", name, boundary)] = phase.end_m
            values[Variable("time", name, boundary)] = phase.end_s
    for name, trigger in reading.triggers.items():
        values[Variable("crossing", name)] = trigger.crossing_s
        values[Variable("acts", name)] = trigger.acts_s
    for name, moment in reading.moments.items():
        values[Variable("encounter", name)] = moment.time_s
    return values


def broken(rows: list[RelaxedRow], values: dict[Variable, float]) -> list[str]:
    """Name the rows that a plan breaks."""
    found = []
    for row in rows:
        amount = sum(factor * values[one] for one, factor in row.terms.items())
        if not row.lo - OPEN <= amount <= row.hi + OPEN:
            found.append(f"{row.what}: {row.lo} <= {amount} <= {row.hi}")
    return found


def planned(text: str) -> Solved:
    """Give a solution that the simulation confirms: bodies don't drive through each other."""
    found = answer(case_at(loads(text, FILE, Path()), None))
    assert found.feasible
    assert found.solved is not None
    return found.solved


def _assert_all_hold(found: Solved) -> None:
    assert found.solution.solved
    problem = found.staging.problem
    rows = relaxed_rows(problem)
    assert len(rows) > 5
    assert broken(rows, values_of(found.solution.reading)) == []
    assert [one.title for one in budgets_of(problem) if one.short_by > OPEN] == []


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_every_row_and_every_budget_holds_of_the_plan_of_a_bundled_scenario(file: Path) -> None:
    found = solve_staging(build_staging(load(file)), Solvers())
    if not found.solution.solved:  # what the nonlinear stage alone has no plan for
        told = answer(case_of(load(file))).solved
        assert told is not None
        found = told
    _assert_all_hold(found)


@pytest.mark.parametrize("name", TEXTS)
def test_every_row_and_every_budget_holds_near_the_edge_of_what_can_be_done(name: str) -> None:
    _assert_all_hold(planned(TEXTS[name]))


def test_a_row_that_a_plan_breaks_is_found() -> None:
    values = values_of(planned(crossing()).solution.reading)
    start = Variable("station", "subject", 0)
    row = RelaxedRow({start: 1.0}, values[start] + 0.1, 1e9, "beyond", "m", None)
    assert len(broken([row], values)) == 1
