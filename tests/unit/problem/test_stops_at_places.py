"""Stops at a place: the hold before has its length from it."""

from dataclasses import replace
from pathlib import Path

import pytest

from choreo.case import Answer, answer, case_of
from choreo.scenario import loads
from choreo.verification import verify
from choreo.words import ChoreoError

KMH = 1 / 3.6
TEXT = """choreo: 1
title: a bus stops at its halt
paths:
  lane:
    start: [0 m, 0 m]
    heading: 0 deg
    pieces: [{line: 150 m}, {line: 50 m, name: halt}, {line: 100 m}]
movers:
  bus:
    path: lane
    body: {length: 12 m, width: 2.5 m}
    limits: {speed: 80 km/h, accelerate: 1 m/s2, brake: 4 m/s2}
    start: {station: 20 m}
    programme:
      - ramp: {to: SPEED}
      - hold: {}
      - stop: {brake: 1.2 m/s2, at: PLACE}
"""


def told(place: str, speed: str = "36 km/h") -> Answer:
    """What choreo says of the bus."""
    text = TEXT.replace("PLACE", place).replace("SPEED", speed)
    return answer(case_of(loads(text, "bus.yaml", Path())))


@pytest.mark.parametrize("speed", ["36 km/h", "30..36 km/h"])
@pytest.mark.parametrize(("place", "rest_m"), [("180 m", 180.0), ("end of bus.halt", 200.0)])
def test_a_stop_ends_where_it_should(place: str, rest_m: float, speed: str) -> None:
    plan = told(place, speed).plan
    assert plan.verdict == "feasible"
    (rest,) = [one for one in plan.movers["bus"].events if one.name == "end of stop"]
    assert rest.station_m == pytest.approx(rest_m, abs=1e-6)


def test_a_place_too_near_is_proven_impossible() -> None:
    """50 m to 36 km/h and 41.7 m to rest don't fit into 80 m."""
    assert told("100 m").plan.verdict == "infeasible"


def test_the_simulation_looks_where_it_comes_to_rest() -> None:
    found = told("180 m")
    bus = found.scenario.movers["bus"]
    stop = replace(bus.programme[2], rests_m=180.5)
    moved = replace(bus, programme=(*bus.programme[:2], stop))
    scenario = replace(found.scenario, movers={"bus": moved})
    assert {one.code for one in verify(scenario, found.paths, found.plan).findings} == {
        "verify.stop-place"
    }


@pytest.mark.parametrize(
    ("place", "code"),
    [
        ("the halt", "scenario.bad-value"),
        ("-3 m", "scenario.bad-value"),
        ("end of bus.hold", "scenario.bad-value"),
        ("end of bus.halts", "scenario.unknown-name"),
    ],
)
def test_what_is_no_place_is_refused(place: str, code: str) -> None:
    with pytest.raises(ChoreoError) as caught:
        told(place)
    assert {one.code for one in caught.value.findings if one.severity == "error"} == {code}
