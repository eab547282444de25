"""Who is not at its hold's speed at an encounter is warned of, unless the file says so."""

from pathlib import Path

import pytest

from choreo.scenario import loads
from tests.answers import timing_of

TEXT = """choreo: 1
title: towards one ahead
paths:
  lane: {start: [0 m, 0 m], pieces: [{line: 240 m}, {line: 400 m, name: beyond}]}
movers:
  subject:
    path: lane
    body: {length: 4.5 m, width: 1.8 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    programme:
      - ramp: {to: 60 km/h}
      - hold: {settle: 2 s}
      - stop: {}
  lead:
    path: lane
    body: {length: 4.2 m, width: 1.8 m}
    limits: {speed: 80 km/h, accelerate: 2 m/s2, brake: 5 m/s2}
    programme:
      - ramp: {to: 20 km/h}
      - hold: {settle: 1 s}
      - stop: {brake: 4 m/s2}
ENCOUNTERS
"""
HIT = "encounters: {hit: {kind: contact, of: subject, with: lead, overlap: 50 %}}"
CLOSE = "encounters: {close: {kind: gap, of: subject, with: lead, distance: 20 m, at: MARK}}"
MARK = "start of subject.beyond"
BRAKES = "hit: {kind: contact, of: subject, with: lead, overlap: 50 %}"
BRAKES = f"encounters:\n  {BRAKES}\n  near: {{kind: gap, of: subject, with: lead, time gap: 1 s, at: end of lead.hold}}"
HOLDS = "hold: {settle: 2 s}", "hold: {settle: 1 s}"


def told(encounters: str, subject: str = HOLDS[0], lead: str = HOLDS[1]) -> list[str]:
    """What is warned of where the holds are written so."""
    text = TEXT.replace("ENCOUNTERS", encounters).replace(HOLDS[0], subject).replace(HOLDS[1], lead)
    plan = timing_of(loads(text, "ahead.yaml", Path()))
    assert plan.verdict == "feasible"
    return [f"{one.text}. {one.advice}" for one in plan.warnings if one.code == "plan.not-at-speed"]


def test_a_contact_before_holds_without_an_end_is_told() -> None:
    subject, lead = told(HIT)
    assert "km/h at `hit`, not at the 20.0 km/h of its phase `hold`" in lead
    assert "subject is at" in subject
    assert "it has not reached it yet. Write `until: hit`" in subject


@pytest.mark.parametrize(
    ("encounters", "subject", "lead"),
    [
        (HIT, "hold: {settle: 2 s, until: hit}", "hold: {settle: 1 s, until: hit}"),
        # The lead brakes at a moment of the file's own.
        (HIT, "hold: {settle: 2 s, until: hit}", "hold: {settle: 1 s, for: 3 s}"),
        (BRAKES, "hold: {settle: 2 s, until: hit}", HOLDS[1]),
    ],
)
def test_what_the_file_says_is_wanted(encounters: str, subject: str, lead: str) -> None:
    assert told(encounters, subject, lead) == []


def test_a_gap_at_a_mark_is_told_with_the_mark() -> None:
    (lead,) = told(CLOSE.replace("MARK", MARK), f"hold: {{until: {MARK}}}")
    assert "not at the 20.0 km/h" in lead
    assert f"it has begun to brake. Write `until: {MARK}`" in lead


def test_nothing_is_told_of_a_motion_that_is_no_plan() -> None:
    """A belt that is too short for the walker's speed: what the solver came nearest with is nobody's motion."""
    walker = """  walker:
    kind: pedestrian
    path: belt
    body: {length: 0.6 m, width: 0.5 m}
    limits: {speed: 10 km/h, accelerate: 2 m/s2, brake: 2 m/s2}
    start: {station: 4.6 m}
    programme: [{ramp: {to: 5 km/h}}, {hold: {until: hit}}, {stop: {}}]
encounters: {hit: {kind: contact, of: subject, with: walker, overlap: 50 %}}
"""
    belt = "  belt: {start: [200 m, -5 m], heading: 90 deg, pieces: [{line: 12 m}]}\nmovers:\n"
    text = TEXT[: TEXT.index("  lead:")].replace("movers:\n", belt) + walker
    plan = timing_of(loads(text.replace(HOLDS[0], "hold: {until: hit}"), "belt.yaml", Path()))
    assert plan.verdict == "infeasible"
    assert [one.code for one in plan.warnings] == []
