"""`prefer: highest NAME`: the open quantity at the end of what works, with what stops it."""

import math
from pathlib import Path

import pytest

from choreo.case import Answer, answer_with_sights, case_at
from choreo.plans.message import messages_of
from choreo.scenario import loads
from choreo.words import ChoreoError

TEXT = """choreo: 1
title: towards a target
prefer: PREFER
paths:
  lane: {start: [0 m, 0 m], pieces: [{line: 400 m}]}
movers:
  subject:
    path: lane
    body: {length: 4 m, width: 1.8 m}
    limits: {speed: 150 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    programme:
      - ramp: {to: SPEED}
      - hold: {settle: 2 s, until: contact}
      - stop: {brake: 5 m/s2}
  target:
    path: lane
    body: {length: 4 m, width: 1.8 m}
    start: {station: STATION}
encounters:
  contact: {kind: contact, of: subject, with: target, overlap: 50 %}
"""


def answered(prefer: str, speed: str = "20..150 km/h", station: str = "300 m") -> Answer:
    """A car that drives at a standing target and stops before its path ends."""
    text = TEXT.replace("PREFER", prefer).replace("SPEED", speed).replace("STATION", station)
    return answer_with_sights(case_at(loads(text, "extreme.yaml", Path()), None))[0]


def test_the_highest_speed_is_the_one_from_which_it_still_stops() -> None:
    found = answered("highest subject speed")
    told = found.plan.preferred
    assert found.feasible
    assert told is not None
    # The contact is at 296 m: 104 m to stop in, at 5 m/s2.
    most = math.sqrt(2 * 5.0 * 104.0)
    assert told.value <= most <= told.value + told.fine
    assert found.plan.movers["subject"].peak.speed_mps == pytest.approx(told.value, abs=1e-6)
    assert told.why == "beyond it no plan exists"
    assert told.budgets[0].title == "subject can't stop before its path ends"
    # The plan is one of the file as it is written.
    assert found.plan.fingerprint == answered("highest subject speed").plan.fingerprint
    assert found.plan.fingerprint != answered("lowest subject speed").plan.fingerprint


def test_where_nothing_stops_it_the_end_of_the_range_is_taken() -> None:
    told = answered("lowest subject speed").plan.preferred
    assert told is not None
    assert told.value == pytest.approx(20 / 3.6)
    assert told.beyond is None
    assert told.budgets == ()


def test_a_place_can_be_preferred_as_well() -> None:
    told = answered("highest target start", "60 km/h", "100..390 m").plan.preferred
    assert told is not None
    # 27.78 m to stop in from 60 km/h, and 4 m between the reference points at the contact.
    most = 400.0 - (60 / 3.6) ** 2 / 10.0 + 4.0
    assert told.value <= most <= told.value + told.fine


@pytest.mark.parametrize(
    ("prefer", "wrong", "advice"),
    [
        ("highest subject speet", "named `subject speet`", "Did you mean `subject speed`?"),
        (
            "highest subject braking",
            "subject braking is 6.00 m/s2: there is nothing",
            "Write a range",
        ),
        ("greatest subject speed", "`greatest subject speed` is not a choice", "Write one of"),
    ],
)
def test_what_is_not_open_cannot_be_preferred(prefer: str, wrong: str, advice: str) -> None:
    with pytest.raises(ChoreoError) as caught:
        answered(prefer)
    (message,) = messages_of(caught.value.findings)
    assert wrong in message.text
    assert message.advice.startswith(advice)
