"""Waits: what each spelling means, in the records, in a plan, and to the simulation."""

from dataclasses import replace
from pathlib import Path

import pytest

from choreo.case import answer, case_of
from choreo.plans.record import Plan
from choreo.scenario import Phase, loads
from choreo.verification import verify
from choreo.words import ChoreoError

TEXT = """choreo: 1
title: walks, pauses, walks on
paths:
  lane: {start: [0 m, 0 m], heading: 0 deg, pieces: [{line: 100 m}]}
movers:
  walker:
    kind: pedestrian
    path: lane
    body: {length: 0.6 m, width: 0.5 m}
    limits: {speed: 10 km/h, accelerate: 2 m/s2, brake: 2 m/s2}
    start: {station: 0 m}
    programme:
      - wait: FIRST
      - ramp: {to: SPEED}
      - hold: {for: 3 s}
      - stop: {}
      - wait: MIDDLE
      - ramp: {to: 5 km/h}
      - hold: {for: 3 s}
      - stop: {}
"""


def waits(first: str, middle: str, speed: str = "5 km/h") -> str:
    """The walker's file with its two waits."""
    text = TEXT.replace("FIRST", first).replace("MIDDLE", middle)
    return text.replace("SPEED", speed)


def planned(text: str) -> Plan:
    """What choreo plans for it."""
    return answer(case_of(loads(text, "walker.yaml", Path()))).plan


def pause(plan: Plan) -> tuple[float, float]:
    """When the walker begins to stand in the middle, and when it goes on, in s after go."""
    ends = {event.name: event.time_s for event in plan.movers["walker"].events}
    again = next(one for one in plan.movers["walker"].pieces if one.phase == "ramp 2")
    return ends["end of stop"], again.start_s


@pytest.mark.parametrize("speed", ["5 km/h", "4..5 km/h"])
def test_a_pause_lasts_or_ends_as_written(speed: str) -> None:
    plan = planned(waits("{lasting: 1.5 s}", "{lasting: 2 s}", speed))
    assert plan.verdict == "feasible"
    stands, goes = pause(plan)
    assert (plan.movers["walker"].launch_s, goes - stands) == pytest.approx((1.5, 2.0), abs=1e-9)
    plan = planned(waits("{until: 1 s after go}", "{until: 12 s after go}", speed))
    assert plan.verdict == "feasible"
    assert (plan.movers["walker"].launch_s, pause(plan)[1]) == pytest.approx((1.0, 12.0), abs=1e-9)


def test_a_pause_that_ends_before_it_begins_is_proven_impossible() -> None:
    assert planned(waits("{for: 1 s}", "{until: 3 s after go}")).verdict == "infeasible"


@pytest.mark.parametrize(
    ("middle", "code", "told"),
    [
        ("{for: 2 s}", "scenario.wait-since-when", "`wait: {lasting: 2 s}`"),
        ("{for: 2 s}", "scenario.wait-since-when", "`wait: {until: 2 s after go}`"),
        ("{until: 2 s}", "scenario.bad-value", "`until: 12 s after go`"),
        ("{until: soon after go}", "scenario.bad-value", "`until: 12 s after go`"),
        ("{lasting: 2 s, until: 2 s after go}", "scenario.one-of", "exactly one"),
        ("{}", "scenario.one-of", "exactly one"),
    ],
)
def test_what_could_mean_either_is_refused(middle: str, code: str, told: str) -> None:
    with pytest.raises(ChoreoError) as caught:
        loads(waits("{for: 1 s}", middle), "walker.yaml", Path())
    (found,) = caught.value.findings
    assert found.code == code
    assert told in f"{found.text} {found.advice}"


def test_the_simulation_holds_a_pause_to_its_length() -> None:
    """A scenario that asks for a tenth of a second more than the plan stands."""
    case = case_of(loads(waits("{for: 1 s}", "{lasting: 2 s}"), "walker.yaml", Path()))
    plan, walker = answer(case).plan, case.scenario.movers["walker"]
    longer = tuple(
        replace(one, lasting_s=2.1) if one.name == "wait 2" else one for one in walker.programme
    )
    assert Phase("wait", "wait 2", lasting_s=2.1) in longer
    other = replace(case.scenario, movers={"walker": replace(walker, programme=longer)})
    codes = {one.code for one in verify(other, case.paths, plan).findings}
    assert codes == {"verify.wait-time"}
