"""A phase `follow` in step with another mover: by plan a ramp and a hold, driven by that one's progress."""

from pathlib import Path

import pytest

from choreo.case import case_at
from choreo.measured.as_staged import simulated
from choreo.measured.file import Measurements
from choreo.plans.document import from_text, to_text
from choreo.plans.message import messages_of
from choreo.report.launches import in_step_of, in_step_words, launch_words
from choreo.scenario import Event, Scenario, Span, load, loads
from choreo.scenario.records.in_step import InStep
from choreo.words import ChoreoError
from tests.answers import timing_of

KMH = 1 / 3.6
READY = Path("scenarios/walker-in-step.yaml")

TEXT = """choreo: 1
title: in step
paths:
  lane: {start: [0 m, 0 m], pieces: [{line: 400 m}]}
  crossing: {start: [310 m, -6 m], heading: 90 deg, pieces: [{line: 12 m}]}
movers:
  subject:
    path: lane
    body: {length: 4 m, width: 1.8 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    programme: [LEAD]
  walker:
    path: crossing
    body: {length: 0.6 m, width: 0.5 m}
    limits: {speed: 10 km/h, accelerate: 2 m/s2, brake: 2 m/s2}
    start: {station: 0 m}
    programme:
      - FOLLOW
      - stop: {brake: 1 m/s2}
encounters:
  contact: {kind: contact, of: subject, with: walker, overlap: 50 %}
"""
FOLLOW = (
    "follow: {mover: subject, to: 5 km/h, accelerate: 1 m/s2, until: contact, frozen: 0.5 s before contact, "
    "correction: 20 %, link: 30 ms, sampling: 50 Hz}"
)
LEAD = "{ramp: {to: 50 km/h}}, {hold: {until: contact}}, {stop: {}}"


def loaded(follow: str = FOLLOW, lead: str = LEAD) -> Scenario:
    return loads(TEXT.replace("FOLLOW", follow).replace("LEAD", lead), "step.yaml", Path())


def test_it_is_written_out_as_ramp_and_hold_with_their_law() -> None:
    walker = loaded().movers["walker"]
    assert [one.name for one in walker.programme] == ["follow ramp", "follow", "stop"]
    ramp, hold = walker.programme[:2]
    assert (ramp.to, ramp.accelerate_mps2) == (Span.at(5 * KMH), 1.0)
    assert hold.until == Event("encounter", "contact")
    assert walker.in_step == InStep("subject", ("follow ramp", "follow"), 0.20, 0.03, 50.0, 0.5)
    # Places are those of what was written, of what comes after it too.
    origin = loaded().origin("movers", "walker", "programme", 0, "ramp", "to")
    assert (origin.line, TEXT.splitlines()[origin.line - 1].strip()) == (18, "- FOLLOW")
    assert loaded().origin("movers", "walker", "programme", 2, "stop", "brake").line == 19


def test_at_the_speed_that_it_has_it_is_a_hold_alone() -> None:
    follow = "ramp: {to: 5 km/h}\n      - follow: {mover: subject, link: 0 ms, until: contact}"
    walker = loaded(follow).movers["walker"]
    assert [one.name for one in walker.programme] == ["ramp", "follow", "stop"]
    assert walker.in_step == InStep("subject", ("follow",), 0.10, 0.0, 100.0, None)


def test_plan_says_with_whom_and_where_it_is_launched_and_so_does_the_sheet() -> None:
    case = case_at(load(READY), None)
    plan = timing_of(case.scenario)
    assert plan.verdict == "feasible"
    one = plan.movers["walker"].in_step
    assert one is not None
    contact = plan.encounters["contact"]
    assert (one.lead, one.ends_s - one.begins_s) == (
        "subject",
        pytest.approx(contact.time_s - plan.movers["walker"].launch_s),
    )
    assert one.frozen_s == pytest.approx(contact.time_s - 0.5)
    # It holds 40 km/h for 2 s before the contact, and speeds up 4.454 s before that: by hand from rest at 3 m/s2.
    subject = plan.movers["subject"]
    found = next(p for p in subject.pieces if p.start_s <= one.begins_s < p.start_s + p.duration_s)
    u = one.begins_s - found.start_s
    station = found.station_m + found.speed_mps * u + found.accel_mps2 * u**2 / 2
    assert one.launched_at_m == pytest.approx(station + found.jerk_mps3 * u**3 / 6)
    assert "with subject at station 406.644 m" in launch_words(plan.movers["walker"])
    (table,) = in_step_of(plan)
    assert "10.0" in table.rows[0]  # type: ignore[union-attr]
    assert in_step_words(plan.movers["walker"]).startswith(" In step with subject from 2.564 s to")
    assert from_text(to_text(plan), "plan.json") == plan


def test_a_mark_that_is_off_moves_the_impact_of_one_by_the_clock_only() -> None:
    clock = READY.read_text(encoding="utf-8")
    law = ("frozen: 0.5 s before contact", "correction: 10 %", "link: 30 ms")
    for key in ("mover: subject", "until: contact", *law):
        clock = clock.replace(f"          {key}\n", "")
    clock = clock.replace("follow:", "ramp:").replace(
        "      - stop: {}", "      - hold: {until: contact}\n      - stop: {}"
    )
    values = {}
    for name, scenario in (
        ("in step", load(READY)),
        ("clock", loads(clock, "c.yaml", READY.parent)),
    ):
        case = case_at(scenario, None)
        plan = timing_of(scenario)
        moved = Measurements({"subject": plan.movers["subject"].start.station_m - 1.0}, {}, {})
        (found,), _ = simulated(case, plan, moved)
        values[name] = found.measured
    # A metre at 40 km/h are 0.09 s, and the walker's 5 km/h make 0.125 m of that.
    assert values["clock"] == pytest.approx(5 / 40, abs=1e-3)
    assert values["in step"] == pytest.approx(0.0, abs=1e-3)


@pytest.mark.parametrize(
    ("follow", "lead", "wrong", "advice"),
    [
        (FOLLOW.replace("to: 5", "time gap: 1 s, to: 5"), LEAD, "`time gap`, which is of a gap behind", "Keep one"),
        (FOLLOW.replace("to: 5 km/h, accelerate: 1 m/s2, ", ""), LEAD, "from rest it needs a speed", "Write `to"),
        (FOLLOW.replace("20 %", "120 %"), LEAD, "less than 100 %", "Write `correction: 10 %`"),
        (FOLLOW.replace("before contact", "before launch of subject"), LEAD, "before the event that ends", "Write"),
        (FOLLOW.replace("0.5 s before contact", "0.5 s"), LEAD, "`0.5 s` is no time before an event", "Write a time"),
        (FOLLOW.replace("mover: subject", "mover: sujbect"), LEAD, "no mover named `sujbect`", "Did you mean"),
        (FOLLOW.replace("mover: subject", "mover: walker"), LEAD, "it is itself", "Name another"),
        (FOLLOW, "", "subject stands", "Give subject a `programme`"),
        (FOLLOW, LEAD.replace("hold: {", "follow: {mover: walker, link: 0 s, "), "each goes in step", "Let one"),
        (f"{FOLLOW}\n      - {FOLLOW.replace('to: 5', 'to: 6')}", LEAD, "in an earlier phase", "Keep one phase"),
    ],
)  # fmt: skip
def test_what_cannot_go_in_step_is_a_fault_with_advice(
    follow: str, lead: str, wrong: str, advice: str
) -> None:
    with pytest.raises(ChoreoError) as caught:
        loaded(follow, lead)
    messages = messages_of(caught.value.findings)
    assert any(wrong in one.text and one.advice.startswith(advice) for one in messages), messages
