"""Steep banks: where a mover would slide down it is not slow, or that is proved impossible by name."""

from pathlib import Path

import pytest

from choreo.case import answer, case_of
from choreo.plans.record import Plan
from choreo.scenario import loads

# 4 m/s2 on a bank of 40 deg, radius 100 m: friction angle 22.19 deg, least speed 63.90 km/h, neutral 103.27 km/h.
BOWL = """choreo: 1
title: a steep bowl
paths:
  bowl:
    start: [0 m, 0 m]
    pieces: [{{line: 200 m}}, {{arc: {{radius: 100 m, angle: 120 deg}}, bank: 40 deg, name: bowl}}, {{line: 200 m}}]
movers:
  subject:
    path: bowl
    body: {{length: 4.5 m, width: 1.8 m}}
    limits: {{speed: 180 km/h, accelerate: 3 m/s2, brake: 9 m/s2, lateral: 4 m/s2}}
    programme:
      - ramp: {{to: {speed}}}
      - hold: {{settle: 1 s, settled by: start of subject.bowl, until: {until} of subject.bowl}}
{rest}      - stop: {{brake: 4 m/s2}}
"""


def planned(speed: str, until: str = "end", rest: str = "") -> Plan:
    text = BOWL.format(speed=speed, until=until, rest=rest)
    return answer(case_of(loads(text, "bowl.yaml", Path()))).plan


@pytest.mark.parametrize("speed", ["63.8 km/h", "20..63 km/h"])
def test_too_slow_for_a_steep_bank_is_proved_by_name_with_the_neutral_speed(speed: str) -> None:
    plan = planned(speed)
    assert plan.verdict == "infeasible"
    words = " ".join(str(budget) for budget in plan.budgets)
    assert "63.90 km/h" in words
    assert "slides" in words
    assert "neutral: 103.27 km/h" in words


def test_it_is_fast_enough_when_it_comes_to_the_bank_and_until_it_has_left_it() -> None:
    plan = planned("64 km/h", "end")
    assert plan.verdict == "feasible"
    # Left free, the start would be nearest behind the beginning of the bank.
    up = "      - ramp: {to: 80 km/h, accelerate: 2 m/s2}\n      - hold: {for: 155 m}\n"
    plan = planned("64 km/h", "start", up)
    assert plan.verdict == "feasible"
    stop = next(one for one in plan.movers["subject"].events if one.name == "end of hold 2")
    # From 80 to 63.90 km/h at 4 m/s2: 22.35 m, so braking may begin in the bowl.
    slow_m = stop.station_m + ((80 / 3.6) ** 2 - (63.90 / 3.6) ** 2) / 8.0
    assert stop.station_m < 409.44 < slow_m


def test_stop_on_a_steep_bank_is_proved_impossible() -> None:
    up = "      - ramp: {to: 80 km/h, accelerate: 2 m/s2}\n      - hold: {for: 100 m}\n"
    plan = planned("64 km/h", "start", up)
    assert plan.verdict == "infeasible"


def test_between_two_steep_banks_it_may_stand() -> None:
    bowl = "{{line: 200 m}}, {{arc: {{radius: 100 m, angle: 120 deg}}, bank: 40 deg, name: bowl}}"
    again = "{{repeat: 2, pieces: [" + bowl.replace("200", "400") + "]}}"
    twice = BOWL.replace(bowl, again)
    twice = twice.replace("9 m/s2", "9 m/s2, jerk: 8 m/s3")
    text = twice.format(speed="80 km/h", until="1st end", rest="")
    text = text.replace("settle: 1 s, settled by: start of subject.bowl, ", "settle: 1 s, ")
    text = text.replace("    programme:", "    start: {station: 0..250 m}\n    programme:")
    plan = answer(case_of(loads(text, "bowls.yaml", Path()))).plan
    assert plan.verdict == "feasible"
    assert not [one for one in plan.warnings if "at its limit" in str(one)]
