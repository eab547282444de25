"""What is asked of a problem's records in several places."""

from dataclasses import replace

import pytest

from choreo.problem.records import Hold, Wait
from choreo.scenario import Event
from tests.hand_made import hold, mover, ramp, stop, walker_problem


def test_hold_that_lasts_until_an_encounter_is_found_by_mover_and_index() -> None:
    problem = walker_problem()
    assert problem.hold_until("contact") == ("subject", 1)
    assert problem.mover("walker").hold_until("contact") == 2
    assert problem.hold_until("another") is None


def test_hold_until_another_kind_of_event_of_that_name_does_not_count() -> None:
    waits = hold(until=Event("trigger", "contact"))
    assert mover("subject", (ramp(5.0, 2.0, 4.0), waits)).hold_until("contact") is None
    assert not Hold("hold", None, 0.0, None, 5.0, None, None).lasts_until("contact")


def test_trigger_launches_who_waits_for_it_first() -> None:
    problem = walker_problem()
    later = Wait("later", None, "step_out", None)
    halting = mover("halting", (ramp(5.0, 2.0, 4.0), stop(2.0, 4.0), later, ramp(5.0, 2.0, 4.0)))
    problem = replace(problem, movers=(*problem.movers, halting))
    assert [one.name for one in problem.launched_by("step_out")] == ["walker"]
    assert problem.mover("walker").launch_trigger == "step_out"
    assert problem.mover("subject").launch_trigger is None
    assert mover("standing", ()).launch_trigger is None


def test_detection_is_expected_after_half_a_sampling_period() -> None:
    (trigger,) = walker_problem().triggers
    assert trigger.sampling_s == 0.01
    assert trigger.expected_detection_s == pytest.approx(0.005)
