"""A collision that leaves no plan is told as one, and proves it where there is one motion only."""

import math
from pathlib import Path

import pytest

from choreo.case import whole_answer
from choreo.plans.record import Plan
from choreo.repair import explain
from choreo.report import content_of
from choreo.scenario import loads

CAR = """
    body: {length: 4.6 m, width: 1.8 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 7 m/s2}
"""
RAMP = "ramp: {to: 60 km/h, accelerate: 2 m/s2}"
GIVEN = f"""
choreo: 1
title: two ways that cross
paths:
  lane: {{start: [-200 m, 0 m], pieces: [{{line: 600 m}}]}}
  side: {{start: [0 m, -200 m], heading: 90 deg, pieces: [{{line: 600 m}}]}}
movers:
  subject:
    path: lane{CAR}
    start: {{station: 0 m}}
    programme: [wait: {{for: 0.5 s}}, {RAMP}, hold: {{for: 10 s}}, stop: {{brake: 5 m/s2}}]
  other:
    path: side{CAR}
    start: {{station: 0 m}}
    programme: [wait: {{for: 0.5 s}}, {RAMP}, hold: {{for: 10 s}}, stop: {{brake: 5 m/s2}}]
"""
# The faster one drives into the other, from behind in one lane.
IN_LANE = GIVEN.replace("path: side", "path: lane").replace("{station: 0 m}", "{station: 150 m}")
IN_LANE = IN_LANE.replace("{station: 150 m}", "{station: 0 m}", 1)
IN_LANE = IN_LANE.replace("to: 60", "to: 20").replace("to: 20", "to: 60", 1)


def planned(text: str) -> Plan:
    answer = whole_answer(loads(text, "two.yaml", Path()))
    assert str(content_of(answer.scenario, answer.plan).summary)
    return answer.plan


def test_one_motion_that_collides_proves_that_there_is_no_plan() -> None:
    """Both reach the crossing at the same time: 200 m less 2.3 and 0.9 m at 60 km/h, after a ramp of 8.333 s."""
    plan = planned(GIVEN)
    (told,) = plan.collisions
    speed = 60 / 3.6
    first_s = 0.5 + speed / 2.0 + (200.0 - 2.3 - 0.9 - speed**2 / 4.0) / speed
    assert plan.verdict == "infeasible"
    assert plan.movers == {}
    assert told.text.startswith(f"subject and other collide at {first_s:.3f} s at (")
    (budget,) = plan.budgets
    # Squarely across each other their sides are deepest: half of a length and half of a width.
    assert budget.short_by == pytest.approx(2.3 + 0.9, abs=0.1)
    assert math.isfinite(budget.pieces[0].value)


def test_a_collision_in_one_lane_is_told_beside_the_budget() -> None:
    plan = planned(IN_LANE)
    assert plan.verdict == "infeasible"
    assert plan.collisions[0].text.startswith("subject and other collide at ")
    assert plan.budgets[0].short_by > 0


def test_with_something_free_there_is_a_plan_and_nothing_is_told() -> None:
    plan = planned(GIVEN.replace("hold: {for: 10 s}", "hold: {settle: 1 s}", 1))
    assert (plan.verdict, plan.collisions) == ("feasible", ())


def test_least_change_that_avoids_it_is_told() -> None:
    found = explain(whole_answer(loads(GIVEN, "two.yaml", Path())), most=1)
    assert found.plan.verdict == "infeasible"
    assert [one.code for one in found.plan.repairs] == ["repair"]
    assert len(found.repairs) == 1


STANDS = f"""
choreo: 1
title: a stop that is too long for what stands there
paths:
  lane: {{start: [0 m, 0 m], pieces: [{{line: 300 m}}]}}
movers:
  subject:
    path: lane{CAR}
    start: {{station: 20 m}}
    programme: [ramp: {{to: 72 km/h, accelerate: 2 m/s2}}, hold: {{for: 2 s}}, stop: {{brake: 5 m/s2}}]
  other:
    stand: {{at: [120 m, 0 m], heading: 0 deg}}{CAR}
"""


def test_who_stands_before_the_end_of_a_given_way_proves_by_how_much_it_is_too_long() -> None:
    """100 m to reach 72 km/h, 40 m of hold, 40 m of stop; 120 m less 20 m and two halves of 4.6 m are free."""
    plan = planned(STANDS)
    (budget,) = plan.budgets
    assert (plan.verdict, plan.movers) == ("infeasible", {})
    assert budget.available.value == pytest.approx(120 - 20 - 4.6, abs=2e-3)
    assert budget.short_by == pytest.approx(180 - 95.4, abs=2e-3)
    shorter = STANDS.replace("[120 m", "[205 m").replace("line: 300", "line: 400")
    assert planned(shorter).verdict == "feasible"


def test_an_open_start_is_not_to_be_left_open_and_who_may_start_beyond_is_not_impossible() -> None:
    opened = STANDS.replace("{station: 20 m}", "{station: free}")
    plan = planned(opened)
    assert plan.verdict == "infeasible"
    assert "open" not in plan.collisions[0].advice
    assert "beyond it its path is too short" in plan.budgets[0].title
    assert planned(opened.replace("line: 300", "line: 305")).verdict != "infeasible"


KEPT = """keep: [subject speed, subject run-up path, subject run-out path, subject braking, subject usual braking,
       target speed, target run-up path, target run-out path, target braking, close distance]
"""
CUT_IN = f"""
choreo: 1
title: a slower one cuts in, and stops harder than who comes behind can
paths:
  lane: {{start: [0 m, 0 m], pieces: [{{line: 900 m}}]}}
  cutting:
    start: [0 m, 3.5 m]
    pieces: [{{line: 400 m}}, {{shift: {{offset: -3.5 m, length: 60 m}}, name: change}}, {{line: 440 m}}]
movers:
  subject:
    path: lane{CAR}
    usual: {{brake: 3 m/s2}}
    programme: [ramp: {{to: 100 km/h}}, hold: {{settle: 3 s, until: close}}, stop: {{}}]
  target:
    path: cutting{CAR}
    programme: [ramp: {{to: 70 km/h}}, hold: {{settle: 2 s, until: close}}, stop: {{}}]
encounters:
  close: {{kind: gap, of: subject, with: target, distance: 25 m, at: end of target.change}}
"""


def test_stops_that_collide_after_a_gap_prove_it_and_the_braking_that_nobody_states_is_a_repair() -> (
    None
):
    """At 3 m/s2 the subject comes to rest beyond the target, which brakes at 7 m/s2."""
    answer = whole_answer(loads(KEPT + CUT_IN, "cut.yaml", Path()))
    (budget,) = answer.plan.budgets
    assert answer.plan.verdict == "infeasible"
    assert "from the gap close on all is given" in budget.title
    told = explain(answer)
    ((change,),) = (one.changes for one in told.repairs)
    # The subject comes to rest after 128.6 m, the target 25 m ahead must take 103.6 m: 1.82 m/s2, or less where they
    # touch before.
    assert change.quantity.name == "target stop brake"
    assert 1.5 < change.value < 1.83


def test_a_rate_that_is_open_after_a_gap_proves_nothing() -> None:
    text = CUT_IN.replace("until: close}, stop: {}", "until: close}, ramp: {to: 20 km/h}, stop: {}")
    assert whole_answer(loads(text, "cut.yaml", Path())).plan.verdict == "feasible"
