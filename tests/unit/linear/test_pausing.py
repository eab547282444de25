"""Ramps that pause where no even ramp leads to a plan: found as far as they lead, and proven to lead no farther."""

from pathlib import Path

import pytest

from choreo.case import Answer, answer, case_of
from choreo.linear import pausing_of, unstated
from choreo.problem.records import Ramp
from choreo.scenario import loads

# The subject is at 6 m/s after 4.5 m at least; the walker is launched then. The other 4 m/s take it 1 s and 8 m, the
# contact is at 62.5 m: it comes there no later than 1 + (62.5 - 4.5 - 8) / 6 = 9.33 s after that, by an even ramp 5 s.
TEXT = """choreo: 1
title: a walker who steps out while a car speeds up
paths:
  lane: {start: [0 m, 0 m], heading: 0 deg, pieces: [{line: 200 m}]}
  way: {start: [65 m, -20 m], heading: 90 deg, pieces: [{line: 40 m}]}
movers:
  subject:
    path: lane
    body: {length: 4 m, width: 1.8 m, front overhang: 2.2 m}
    limits: {speed: 20 m/s, accelerate: 4 m/s2, brake: 6 m/s2}
    start: {station: 0 m}
    programme: [{ramp: {to: 10 m/s}, name: go}, {hold: {until: crossed}}, {stop: {}}]
  walker:
    kind: pedestrian
    path: way
    body: {length: 0.6 m, width: 0.6 m, front overhang: 0.3 m}
    limits: {speed: 3 m/s, accelerate: 1 m/s2, brake: 2 m/s2}
    start: {station: START m}
    programme: [{wait: {for: step_out}}, {ramp: {to: 1 m/s, accelerate: 1 m/s2}}, {hold: {until: crossed}}, {stop: {}}]
triggers:
  step_out: {watch: subject, when: {speed: 6..7 m/s}, latency: 0 ms}
encounters:
  crossed: {kind: contact, of: subject, with: walker, offset: 0 m}
"""


def told(walks_s: float) -> Answer:
    """What is said of a walker who takes so long from the launch to the contact, 20 m along its way."""
    text = TEXT.replace("START", f"{20 - (walks_s - 0.5)}")
    return answer(case_of(loads(text, "pausing.yaml", Path())))


@pytest.mark.parametrize("walks_s", [8.5, 9.3])
def test_a_ramp_pauses_where_no_even_one_leads_to_a_plan(walks_s: float) -> None:
    found = told(walks_s)
    assert found.plan.verdict == "feasible"
    assert [one.code for one in found.plan.warnings][:1] == ["plan.pauses"]


def test_who_pauses_accelerates_no_harder_than_usual_where_that_does() -> None:
    usual = TEXT.replace(
        "start: {station: 0 m}", "start: {station: 0 m}\n    usual: {accelerate: 2 m/s2}"
    )
    text = usual.replace("START", f"{20 - (6.5 - 0.5)}")
    found = answer(case_of(loads(text, "pausing.yaml", Path())))
    assert found.plan.verdict == "feasible"
    accels = [one.accel_mps2 for one in found.plan.movers["subject"].pieces]
    assert max(accels) == pytest.approx(2.0)


def test_an_even_ramp_that_leads_to_a_plan_is_left_as_it_is() -> None:
    found = told(4.5)
    assert found.plan.verdict == "feasible"
    assert "plan.pauses" not in {one.code for one in found.plan.warnings}


def test_no_ramp_of_any_shape_is_slower_than_the_speed_that_has_been_passed() -> None:
    found = told(9.4)
    assert found.plan.verdict == "infeasible"
    assert found.plan.budgets


def test_parts_of_a_ramp_are_of_one_phase() -> None:
    """Phases after it are those that they were."""
    staging = case_of(loads(TEXT.replace("START", "10"), "pausing.yaml", Path())).staging
    way = pausing_of(staging, unstated(staging.problem), (0.25, 0.75))
    assert way.parts["subject"] == (0, 0, 0, 0, 0, 1, 2)
    assert sorted(index for _, index in way.pauses) == [1, 3]
    phases = way.staging.problem.mover("subject").phases
    assert [one.to.lo for one in phases if isinstance(one, Ramp)] == [2.5, 7.5, 10.0, 0.0]


# Holds until the contact, far off, and takes no part in it.
OBSERVER = """  observer:
    path: far
    body: {length: 4 m, width: 1.8 m}
    limits: {speed: 30 m/s, accelerate: 2 m/s2, brake: 5 m/s2}
    programme: [{ramp: {to: 5 m/s}}, {hold: {until: crossed}}, {stop: {}}]
"""
FAR = "  far: {start: [0 m, 500 m], heading: 0 deg, pieces: [{line: 900 m}]}\n"


def walked_in_6_s(
    ramp: str, start_m: float, limits: str = "accelerate: 4 m/s2", *, observed: bool = False
) -> Answer:
    """What is said where the walker's launch is 6 s before the contact, 20 m along its way."""
    text = TEXT
    if observed:
        text = text.replace("triggers:", OBSERVER + "triggers:").replace("movers:", FAR + "movers:")
        text = text.replace("paths:", "prefer: quickest run\npaths:")
    text = text.replace("{to: 1 m/s, accelerate: 1 m/s2}", ramp)
    text = text.replace("accelerate: 4 m/s2", limits)
    text = text.replace("{speed: 6..7 m/s}", "{time to collision: 6.005 s}, to: crossed")
    text = text.replace("start: {station: 0 m}", "start: {station: free}").replace("200 m", "300 m")
    text = text.replace("start: [65 m", "start: [265 m").replace("START", f"{start_m}")
    return answer(case_of(loads(text, "pausing.yaml", Path())))


def test_only_ramps_that_have_to_pause_are_touched() -> None:
    """The car's could pause as well, and is driven through at its limit; nothing is told of it."""
    found = walked_in_6_s("{to: 1 m/s}", 17.1, "accelerate: 4 m/s2, jerk: 20 m/s3")
    assert found.plan.verdict == "feasible"
    assert len(found.plan.warnings) == 1
    assert found.plan.warnings[0].text.startswith("ramp of walker stays at ")
    first = found.plan.movers["subject"].pieces[0]
    assert (first.jerk_mps3, first.duration_s) == pytest.approx((20.0, 0.2))
    ramp = [one for one in found.plan.movers["subject"].pieces if one.phase == "go"]
    assert sum(one.duration_s for one in ramp) == pytest.approx(10.0 / 4.0 + 4.0 / 20.0)


def test_a_ramp_of_a_given_length_that_pauses_is_told() -> None:
    """Evenly it takes 2 s of the 6 s, and 3.8 s remain for the hold: it has to move off too early by 0.2 s."""
    found = walked_in_6_s("{to: 1 m/s, over: 1 m}", 15.2)
    assert found.plan.verdict == "feasible"
    assert [one.code for one in found.plan.warnings][:1] == ["plan.pauses"]


# At 10 m/s the trigger is 4 s before the contact; the walker has 3.95 s for its way.
GIVEN = """choreo: 1
title: a walker who is there too early by any even ramp
paths:
  lane: {start: [0 m, 0 m], heading: 0 deg, pieces: [{line: 400 m}]}
  way: {start: [202 m, -WAY m], heading: 90 deg, pieces: [{line: 20 m}]}
movers:
  subject:
    path: lane
    body: {length: 4 m, width: 1.8 m, front overhang: 2.2 m}
    limits: {speed: 20 m/s, accelerate: 4 m/s2, brake: 6 m/s2, jerk: 8 m/s3}
    programme: [{ramp: {to: 10 m/s}, name: go}, {hold: {settle: 1 s, until: crossed}}, {stop: {}}]
  walker:
    kind: pedestrian
    path: way
    body: {length: 0.6 m, width: 0.6 m, front overhang: 0.3 m}
    limits: {speed: 3 m/s, accelerate: 1 m/s2, brake: 2 m/s2}
    start: {station: 0 m}
    programme: [{wait: {for: step_out}}, {ramp: {to: 2 m/s}}, {hold: {until: crossed}}, {stop: {}}]
triggers:
  step_out: {watch: subject, when: {time to collision: 4 s}, latency: 50 ms}
encounters:
  crossed: {kind: contact, of: subject, with: walker, overlap: 50 %}
"""


def test_where_no_even_ramp_can_work_pauses_come_before_the_nonlinear_solver() -> None:
    """By even ramps it is no less than 3.5 m on after 3.95 s, which end at 2 m/s; at its limit it has gone 5.9 m."""
    steps: list[str] = []
    case = case_of(loads(GIVEN.replace("WAY", "2.5"), "pausing.yaml", Path()))
    found = answer(case, progress=steps.append)
    assert found.plan.verdict == "feasible"
    pauses = [one for one in found.plan.warnings if one.code in ("plan.pauses", "plan.gentler")]
    assert ["walker" in one.text for one in pauses] == [True]
    assert "solve" not in steps


@pytest.mark.parametrize(("walks_s", "verdict"), [(31.5, "feasible"), (32.5, "undecided")])
def test_a_ramp_pauses_for_a_quarter_of_a_minute_at_the_most(walks_s: float, verdict: str) -> None:
    """With T s of pausing at 6 m/s it is T + 1 + (250 - 6 T) / 10 s from there to the contact: 32 s for 15 s."""
    far = TEXT.replace("200 m", "400 m").replace("[65 m, -20 m]", "[265 m, -40 m]")
    text = far.replace("START", f"{40 - (walks_s - 0.5)}").replace("{line: 40 m}", "{line: 60 m}")
    found = answer(case_of(loads(text, "pausing.yaml", Path())))
    assert found.plan.verdict == verdict


def test_who_keeps_a_gap_to_another_may_pause_at_its_speed() -> None:
    """At 2 m/s the walker is slower than the subject, whose ramp passes that."""
    gap = "  near: {kind: gap, of: subject, with: walker, distance: 90 m, during: walker.ramp, tolerance: 1 m}\n"
    text = GIVEN.replace("WAY", "2.5").replace("4 s}", "4 s}, to: crossed")
    staging = case_of(loads(text + gap, "pausing.yaml", Path())).staging
    way = pausing_of(staging, unstated(staging.problem), ())
    ends = [
        one.to.lo for one in way.staging.problem.mover("subject").phases if isinstance(one, Ramp)
    ]
    assert ends == [2.0, 10.0, 0.0]
    assert list(way.pauses) == [("subject", 1)]


def test_who_takes_part_in_nothing_drives_at_its_limit() -> None:
    """Nothing asks it to be gentler, whatever the others need."""
    found = walked_in_6_s("{to: 1 m/s, over: 1 m}", 15.2, observed=True)
    assert found.plan.verdict == "feasible"
    assert [one.code for one in found.plan.warnings] == ["plan.pauses", "problem.loose-mover"]
    ramp = found.plan.movers["observer"].pieces[0]
    assert (ramp.duration_s, ramp.accel_mps2) == pytest.approx((2.5, 2.0))
