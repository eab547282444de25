"""Drives that are late: commands and motions, in plans and to the simulation."""

from dataclasses import replace
from pathlib import Path

import pytest

from choreo.case import Answer, answer, case_of
from choreo.scenario import loads
from choreo.verification import verify

KMH = 1 / 3.6
TEXT = """choreo: 1
title: a walker on a platform whose drive is late, before a car that brakes by a trigger
paths:
  lane: {start: [0 m, 0 m], heading: 0 deg, pieces: [{line: 400 m}]}
  crossing: {start: [310 m, -4 m], heading: 90 deg, pieces: [{line: 9 m}]}
movers:
  subject:
    path: lane
    body: {length: 4.30 m, width: 1.80 m, front overhang: 3.40 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    launch: {latency: 0.3 s}
    brake latency: 0.2 s
    programme:
      - ramp: {to: SPEED}
      - hold: {settle: 1 s, until: brake}
      - ramp: {to: 20 km/h, brake: 4 m/s2}
      - hold: {until: contact}
      - stop: {}
  walker:
    kind: pedestrian
    path: crossing
    body: {length: 0.6 m, width: 0.5 m}
    limits: {speed: 10 km/h, accelerate: 2 m/s2, brake: 2 m/s2}
    launch: {latency: 0.5 s}
    start: {station: 0 m}
    programme:
      - wait: {for: step_out}
      - ramp: {to: 5 km/h, accelerate: 1 m/s2}
      - hold: {until: contact}
      - stop: {}
triggers:
  brake: {watch: subject, when: {station: 280 m}, latency: 50 ms, during: hold}
  step_out: {watch: subject, when: {time to collision: free}, during: hold, latency: 60 ms}
encounters:
  contact: {kind: contact, of: subject, with: walker, overlap: 50 %}
"""


def told(speed: str = "40 km/h") -> Answer:
    """What choreo says of the two."""
    return answer(case_of(loads(TEXT.replace("SPEED", speed), "late.yaml", Path())))


@pytest.mark.parametrize("speed", ["40 km/h", "38..40 km/h"])
def test_commands_come_before_motions_by_the_drives_latency(speed: str) -> None:
    plan = told(speed).plan
    assert plan.verdict == "feasible"
    acts = {name: one.acts_at_s for name, one in plan.triggers.items()}
    commands = {
        (name, one.phase): (one.time_s, one.moves_s)
        for name, mover in plan.movers.items()
        for one in mover.commands
    }
    begins = {
        (name, piece.phase): piece.start_s
        for name, mover in plan.movers.items()
        for piece in reversed(mover.pieces)
    }
    latencies = {
        ("subject", "ramp"): 0.3,
        ("subject", "ramp 2"): 0.2,
        ("subject", "stop"): 0.2,
        ("walker", "ramp"): 0.5,
    }
    assert set(commands) == set(latencies)
    for key, late_s in latencies.items():
        moves_s = begins[key]
        assert commands[key] == pytest.approx((moves_s - late_s, moves_s), abs=1e-6)
    assert commands["subject", "ramp"][0] == pytest.approx(0, abs=1e-6)
    assert plan.movers["subject"].launched_by == "go"
    assert commands["subject", "ramp 2"][0] == pytest.approx(acts["brake"], abs=1e-6)
    assert commands["walker", "ramp"][0] == pytest.approx(acts["step_out"], abs=1e-6)


def test_the_simulation_models_late_drives_by_itself() -> None:
    """One scenario a latency, whose drive is later by 20 ms than the plan's."""
    found = told()
    for name, key, wanted in (
        ("walker", "launch_latency_s", {"verify.launch", "verify.encounter-off"}),
        ("subject", "launch_latency_s", {"verify.launch", "verify.command"}),
        ("subject", "brake_latency_s", {"verify.command"}),
    ):
        mover = found.scenario.movers[name]
        later = replace(mover, **{key: getattr(mover, key) + 0.02})
        scenario = replace(found.scenario, movers={**found.scenario.movers, name: later})
        codes = {one.code for one in verify(scenario, found.paths, found.plan).findings}
        assert codes >= wanted


def test_a_command_before_go_has_no_plan() -> None:
    text = TEXT.replace("- ramp: {to: SPEED}", "- wait: {for: 0.2 s}\n      - ramp: {to: 40 km/h}")
    found = answer(case_of(loads(text, "late.yaml", Path())))
    assert found.plan.verdict == "infeasible"
