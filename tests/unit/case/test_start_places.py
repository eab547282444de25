"""Starts that are left open are warned of where they lie in a bend behind a straight, or in another's lane."""

from pathlib import Path

import pytest

from choreo.scenario import loads
from tests.answers import timing_of

TEXT = """choreo: 1
title: round a corner, past a walker
paths:
  road:
    start: [0 m, 0 m]
    pieces: [{line: 200 m}, {bend: {radius: 40 m, angle: 60 deg, clothoid length: 10 m}, name: corner}, {line: 90 m}]
  walk: {start: [100 m, -6 m], heading: 90 deg, pieces: [{line: 14 m}]}
movers:
  subject:
    path: road
    body: {length: 4.5 m, width: 1.8 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    start: {station: START}
    programme: [{ramp: {to: 20 km/h}}, {hold: {SETTLED}}, {stop: {}}]
OTHERS
"""
WALKER = """  walker:
    path: walk
    body: {length: 0.5 m, width: 0.5 m}
    limits: {speed: 10 km/h, accelerate: 2 m/s2, brake: 2 m/s2}
    start: {station: FROM}
    programme: [{ramp: {to: 5 km/h}}, {hold: {until: miss}}, {stop: {}}]
encounters: {miss: {kind: pass, of: subject, with: walker, time: 1 s, first: walker}}"""


def told(start: str, settled: str, others: str) -> list[str]:
    """The codes of what is warned of starts, with the advice."""
    text = TEXT.replace("START", start).replace("SETTLED", settled).replace("OTHERS", others)
    plan = timing_of(loads(text, "corner.yaml", Path()))
    assert plan.verdict == "feasible"
    return [f"{one.text}. {one.advice}" for one in plan.warnings if "starts-in" in one.code]


@pytest.mark.parametrize(
    ("start", "settled", "warned"),
    [
        ("free", "until: end of subject.corner", True),
        ("220 m", "until: end of subject.corner", False),
        ("free", "settled by: start of subject.corner, until: end of subject.corner", False),
    ],
)
def test_a_start_in_a_bend_is_told(start: str, settled: str, warned: bool) -> None:
    found = told(start, settled, "")
    assert len(found) == warned
    assert ("settled by: start of subject.corner" in "".join(found)) == warned


@pytest.mark.parametrize(("start", "warned"), [("free", True), ("0 m", False)])
def test_who_passes_first_is_not_in_the_lane_from_the_start(start: str, warned: bool) -> None:
    found = told(
        "free", "settled by: miss, until: start of subject.corner", WALKER.replace("FROM", start)
    )
    assert len(found) == warned
    assert ("walker stands in the lane of subject" in "".join(found)) == warned
