"""Triggers by station in whatever phase: speeding up, holding, braking."""

import math
from dataclasses import replace
from pathlib import Path

import pytest

from choreo.case import Answer, answer, case_of
from choreo.scenario import loads
from choreo.verification import verify
from choreo.words import ChoreoError

KMH = 1 / 3.6
# From rest at 10 m: 36 km/h after 25 m and 5 s, 50 m at that, to rest after 12.5 m more.
TEXT = """choreo: 1
title: a light is switched when a car has come so far
paths:
  lane: {start: [0 m, 0 m], heading: 0 deg, pieces: [{line: 200 m}]}
  beside: {start: [0 m, 5 m], heading: 0 deg, pieces: [{line: 100 m}]}
movers:
  subject:
    path: lane
    body: {length: 4 m, width: 1.8 m}
    limits: {speed: 80 km/h, accelerate: 2 m/s2, brake: 4 m/s2}
    start: {station: 10 m, at: go}
    programme:
      - ramp: {to: SPEED, accelerate: 2 m/s2}
      - hold: {settle: 2 s, for: 50 m}
      - stop: {}
  cart:
    path: beside
    body: {length: 1 m, width: 1 m}
    limits: {speed: 10 km/h, accelerate: 1 m/s2, brake: 1 m/s2}
    start: {station: 0 m}
    programme:
      - wait: {for: switch}
      - ramp: {to: 5 km/h}
      - hold: {for: 2 s}
      - stop: {}
triggers:
  switch: {watch: subject, when: {station: STATION}, DURING}
"""


def told(station: str, *, during: str = "", speed: str = "36 km/h") -> Answer:
    """What choreo says of the car and the cart."""
    text = TEXT.replace("STATION", station).replace("SPEED", speed)
    text = text.replace(", DURING", f", during: {during}" if during else "")
    return answer(case_of(loads(text, "light.yaml", Path())))


@pytest.mark.parametrize(
    ("station_m", "during", "time_s"),
    [
        (19.0, "", 3.0),  # 2/2 t^2 = 9 m
        (19.0, "ramp", 3.0),
        (45.0, "", 6.0),  # 25 m, then 10 m at 10 m/s: not yet settled
        (95.0, "", 10.0 + (10 - math.sqrt(100 - 2 * 4 * 10)) / 4),
        (95.0, "stop", 10.0 + (10 - math.sqrt(100 - 2 * 4 * 10)) / 4),
    ],
)
def test_a_station_fires_where_it_is_passed(station_m: float, during: str, time_s: float) -> None:
    plan = told(f"{station_m} m", during=during).plan
    assert plan.verdict == "feasible"
    switch = plan.triggers["switch"]
    assert switch.time_s == pytest.approx(time_s, abs=1e-6)
    assert (switch.station_m, switch.setting) == pytest.approx((station_m, station_m), abs=1e-6)
    assert plan.movers["cart"].launch_s == pytest.approx(time_s + 0.005, abs=1e-6)


def test_a_station_fires_in_a_ramp_beside_an_open_speed() -> None:
    for station in ("19 m", "18..20 m"):
        plan = told(station, speed="35..36 km/h").plan
        assert plan.verdict == "feasible"
        assert plan.triggers["switch"].station_m == pytest.approx(19, abs=1.0 + 1e-6)


def test_with_a_hold_named_it_must_be_settled_there() -> None:
    assert told("60 m", during="hold").plan.verdict == "feasible"
    for station in ("19 m", "45 m", "95 m"):
        assert told(station, during="hold").plan.verdict == "infeasible"


def test_the_simulation_finds_where_a_station_is_passed() -> None:
    """A plan whose trigger is set half a metre farther on than where it says that it fires."""
    found = told("19 m")
    switch = replace(found.plan.triggers["switch"], setting=19.5)
    plan = replace(found.plan, triggers={"switch": switch})
    codes = {one.code for one in verify(found.scenario, found.paths, plan).findings}
    assert {"verify.trigger-setting", "verify.trigger-time"} <= codes


def test_only_a_place_is_looked_for_in_a_ramp() -> None:
    for during, when in (("ramps", "station: 19 m"), ("ramp", "time to collision: 2 s")):
        text = TEXT.replace("SPEED", "36 km/h").replace("station: STATION", when)
        with pytest.raises(ChoreoError) as caught:
            loads(text.replace("DURING", f"during: {during}"), "light.yaml", Path())
        assert {one.code for one in caught.value.findings} == {"scenario.unknown-name"}
