"""A phase `follow` is a ramp to the lead's speed, a hold, and a gap that holds meanwhile."""

from pathlib import Path

import pytest

from choreo.case import Case, case_at
from choreo.plans.message import messages_of
from choreo.scenario import Event, Gap, Scenario, Span, loads
from choreo.words import ChoreoError
from tests.answers import timing_of

KMH = 1 / 3.6

TEXT = """choreo: 1
title: following
paths:
  lane: {start: [0 m, 0 m], pieces: [{line: 900 m}]}
movers:
  subject:
    path: lane
    body: {length: 4 m, width: 1.8 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    programme:
      - FOLLOW
      - stop: {brake: 5 m/s2}
  second:
    path: lane
    body: {length: 4 m, width: 1.8 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    programme:
      - ramp: {to: 50 km/h}
      - hold: {for: 1 s}
      - {follow: {mover: lead, distance: 20 m}, name: behind}
      - stop: {brake: 5 m/s2}
  lead:
    path: lane
    body: {length: 4 m, width: 1.8 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    start: {station: 200 m}
    programme: [LEAD, {stop: {brake: 5 m/s2}}]
"""
FOLLOW = "follow: {mover: second, during: behind, time gap: 1.2 s, settle: 4 s}"
LEAD = "{ramp: {to: 60 km/h}}, {hold: {}}"


def loaded(follow: str = FOLLOW, lead: str = LEAD) -> Scenario:
    """A subject that follows a second car, which follows a lead."""
    return loads(TEXT.replace("FOLLOW", follow).replace("LEAD", lead), "follow.yaml", Path())


def test_it_is_written_out_as_ramp_hold_and_gap() -> None:
    scenario = loaded()
    subject, second = scenario.movers["subject"], scenario.movers["second"]
    assert [one.name for one in subject.programme] == ["follow ramp", "follow", "stop"]
    assert [one.name for one in second.programme] == [
        "ramp",
        "hold",
        "behind ramp",
        "behind",
        "stop",
    ]
    assert subject.programme[0].to == second.programme[2].to == Span.at(60 * KMH)
    assert subject.programme[1].settle_s == 4.0
    assert subject.programme[1].until == Event("phase end", "behind", "second")
    gap = scenario.encounters["second_follows_lead"]
    assert isinstance(gap, Gap)
    assert (gap.of, gap.with_, gap.measure, gap.wanted) == (
        "second",
        "lead",
        "distance",
        Span.at(20.0),
    )
    assert gap.at == Event("phase start", "behind", "second")
    assert gap.held_until == Event("phase end", "behind", "second")
    # Places are those of what was written, also of what comes after it.
    assert scenario.origin("encounters", "second_follows_lead", "distance").line == 20
    assert scenario.origin("movers", "second", "programme", 4, "stop", "brake").line == 21


def test_a_platoon_is_planned_and_every_gap_holds() -> None:
    plan = timing_of(loaded())
    assert plan.verdict == "feasible"
    assert set(plan.encounters) == {"second_follows_lead", "subject_follows_second"}
    for name, wanted in (("second_follows_lead", 20.0), ("subject_follows_second", 1.2)):
        assert plan.encounters[name].held == pytest.approx((wanted, wanted), abs=1e-4)
    behind = plan.encounters["subject_follows_second"]
    assert behind.until_s is not None
    assert behind.until_s - behind.time_s >= 4.0 - 1e-6


def test_who_follows_goes_as_fast_as_the_lead_is_made_to_go() -> None:
    case: Case = case_at(loaded(), None)
    names = [one.name for one in case.quantities]
    assert "lead speed" in names
    assert not any("follow" in name or "behind ramp" in name for name in names if "speed" in name)
    faster = case.with_(next(one for one in case.quantities if one.name == "lead speed"), 25.0)
    speeds = {name: one.programme for name, one in faster.scenario.movers.items()}
    assert (
        speeds["subject"][0].to == speeds["second"][2].to == speeds["lead"][0].to == Span.at(25.0)
    )
    assert speeds["second"][0].to == Span.at(50 * KMH)


@pytest.mark.parametrize(
    ("follow", "lead", "wrong", "advice"),
    [
        (FOLLOW, "{ramp: {to: 40..60 km/h}}, {hold: {}}", "second can't follow lead: lead has no one speed", "Give"),
        (FOLLOW, "{ramp: {to: 60 km/h}}", "lead holds no speed", "Give lead a `hold`"),
        (
            FOLLOW,
            "{ramp: {to: 60 km/h}}, {hold: {}}, {ramp: {to: 40 km/h}}, {hold: {}}",
            "lead holds several speeds",
            "Say which: `during: hold` or `during: hold 2`",
        ),
        (FOLLOW.replace("second", "subject"), LEAD, "it is itself", "Name another"),
        (FOLLOW.replace("behind", "behint"), LEAD, "no hold of second named `behint`", "Did you mean `behind`"),
        (FOLLOW.replace("time gap: 1.2 s, ", ""), LEAD, "none of `distance`, `time gap`", "Keep exactly one"),
    ],
)  # fmt: skip
def test_what_cannot_be_followed_is_one_fault_with_advice(
    follow: str, lead: str, wrong: str, advice: str
) -> None:
    with pytest.raises(ChoreoError) as caught:
        loaded(follow, lead)
    (message,) = messages_of(caught.value.findings)
    assert wrong in message.text
    assert message.advice.startswith(advice)
