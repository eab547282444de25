"""Who is ahead by the start marks, and what may lie in each other; the rest is in the faulty files."""

from pathlib import Path

import pytest

from choreo.problem import paths_by_mover
from choreo.problem.contradictions import contradictions
from choreo.scenario import loads

TWO = """
choreo: 1
title: two in a lane
paths:
  lane: {{start: [0 m, 0 m], pieces: [{{line: 900 m}}]}}
  ring: {{start: [0 m, 0 m], closed: yes, pieces: [{{arc: {{radius: 50 m, angle: 360 deg}}}}]}}
movers:
  subject: {{path: {path}, body: {{length: 4 m, width: 2 m}}, start: {{station: {subject}}},
    programme: [{{ramp: {{to: 30 km/h}}}}, {{stop: {{}}}}],
    limits: {{speed: 100 km/h, accelerate: 3 m/s2, brake: 6 m/s2}}}}
  lead: {{path: {path}, body: {{length: 4 m, width: 2 m}}, start: {{station: {lead}}}}}
encounters:
  gap: {{kind: gap, of: subject, with: lead, distance: 12 m, at: end of subject.ramp}}
"""


@pytest.mark.parametrize(
    ("path", "subject", "lead", "wanted"),
    [
        ("lane", "0 m", "100 m", []),
        ("lane", "100 m", "0 m", ["problem.swapped"]),
        ("ring", "100 m", "0 m", []),
        ("lane", "10 m", "13.9 m", ["problem.start-overlap"]),
        ("lane", "10 m", "14 m", []),
        ("lane", "100 m", "free", []),
    ],
)
def test_marks_say_who_is_ahead(path: str, subject: str, lead: str, wanted: list[str]) -> None:
    text = TWO.format(path=path, subject=subject, lead=lead)
    scenario = loads(text, "two.yaml", Path())
    found = contradictions(scenario, paths_by_mover(scenario))
    assert [finding.code for finding in found] == wanted
