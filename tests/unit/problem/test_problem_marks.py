"""Events at named pieces: on the path, at its very ends, and beyond. All figures invented."""

from pathlib import Path

import pytest

from choreo.problem import build_staging
from choreo.scenario import loads
from choreo.words import ChoreoError, Finding

TEXT = """\
choreo: 1
title: a lane beside a stretch of a road
paths:
  road: {start: [0 m, 0 m], heading: 0 deg, pieces: [{line: 100 m}, {line: 80 m, name: mid}, {line: 220 m}]}
  lane: {beside: road, offset: 3.5 m, FROM_TO}
movers:
  subject:
    path: lane
    body: {length: 4.30 m, width: 1.80 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    programme:
      - ramp: {to: 40 km/h}
      - hold: {until: EVENT}
      - stop: {}
"""


def faults(from_to: str, event: str) -> list[Finding]:
    text = TEXT.replace("FROM_TO", from_to).replace("EVENT", event)
    try:
        build_staging(loads(text, "a.yaml", Path()))
    except ChoreoError as error:
        return list(error.findings)
    return []


@pytest.mark.parametrize(
    ("from_to", "event"),
    [
        ("from: 0 m", "end of subject.mid"),
        ("from: 100 m, to: 180 m", "start of subject.mid"),
        ("from: 100 m, to: 180 m", "end of subject.mid"),
        ("from: 150 m", "end of subject.mid"),
        ("from: 20 m, to: 150 m, reversed: yes", "end of subject.mid"),
    ],
)
def test_event_at_a_piece_on_the_path_is_well(from_to: str, event: str) -> None:
    assert faults(from_to, event) == []


@pytest.mark.parametrize(
    ("from_to", "event", "station"),
    [
        ("from: 190 m", "end of subject.mid", "-10.000 m"),
        ("from: 150 m", "start of subject.mid", "-50.000 m"),
        ("from: 20 m, to: 150 m", "end of subject.mid", "160.000 m"),
        ("from: 20 m, to: 150 m, reversed: yes", "start of subject.mid", "-30.000 m"),
    ],
)
def test_event_at_a_piece_beyond_the_path_is_refused_at_its_place(
    from_to: str, event: str, station: str
) -> None:
    (finding,) = faults(from_to, event)
    assert finding.code == "problem.mark-outside"
    assert finding.values["station"] == station
    assert finding.origin is not None
    assert finding.origin.line == 13
