"""A programme as phases, and events of ramps that change nothing. All figures invented."""

from pathlib import Path

import pytest

from choreo.problem import build_staging
from choreo.scenario import Event, loads
from tests.answers import timing_of

ROLLING = """
choreo: 1
title: a lead that rolls at the speed that its ramp goes to
paths:
  lane: {start: [0 m, 0 m], pieces: [{line: 400 m}]}
movers:
  subject:
    path: lane
    body: {length: 4 m, width: 2 m}
    limits: {speed: 100 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    programme: [{ramp: {to: 40 km/h}}, {hold: {settle: 1 s, until: contact}}, {stop: {}}]
  lead:
    path: lane
    body: {length: 4 m, width: 2 m}
    limits: {speed: 100 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    start: {speed: 30 km/h}
    programme: [{ramp: {to: 30 km/h}}, {hold: {for: 10 s}}, {stop: {}}]
encounters:
  near: {kind: gap, of: subject, with: lead, distance: 20 m, at: start of lead.ramp}
  contact: {kind: contact, of: subject, with: lead, overlap: 50 %}
"""


def test_ramp_that_changes_nothing_is_no_phase_but_has_a_boundary() -> None:
    lead = build_staging(loads(ROLLING, "rolling.yaml", Path())).problem.mover("lead")
    assert [phase.name for phase in lead.phases] == ["hold", "stop"]
    for kind in ("phase start", "phase end"):
        assert lead.boundary_of(Event(kind, "ramp", "lead")) == 0
    assert lead.boundary_of(Event("phase end", "hold", "lead")) == 1
    assert lead.boundary_of(Event("launch", None, "lead")) == 0
    assert lead.boundary_of(Event("phase end", "ramp", "subject")) is None


@pytest.mark.parametrize("at", ["start of lead.ramp", "end of lead.ramp"])
def test_gap_at_a_ramp_that_changes_nothing_is_where_the_next_phase_starts(at: str) -> None:
    text = ROLLING.replace("start of lead.ramp", at)
    plan = timing_of(loads(text, "rolling.yaml", Path()))
    assert plan.verdict == "feasible"
    assert plan.encounters["near"].time_s == pytest.approx(plan.movers["lead"].launch_s, abs=1e-9)
