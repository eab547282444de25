"""Open speeds: what the solver may choose from."""

from pathlib import Path

import pytest

from choreo.problem.phases import phases_of
from choreo.problem.records import Ramp
from choreo.scenario import Mover, Span, loads
from tests.unit.scenario.example import WALKER


def walker(to: str) -> Mover:
    text = WALKER.replace("ramp: {to: 5 km/h, within: 1.0 m}", f"ramp: {{to: {to}}}")
    assert to in text
    return loads(text, "a.yaml", Path()).movers["walker"]


@pytest.mark.parametrize(
    ("to", "least", "most"),
    [
        ("0.2..0.8 m/s", 0.2, 0.8),
        ("0.5..1.5 m/s", 0.5, 1.5),
        ("free", 1.0, 10 / 3.6),
        ("0..2 m/s", 1.0, 2.0),
        ("0..0.8 m/s", 0.4, 0.8),
        ("1..9 m/s", 1.0, 10 / 3.6),
    ],
)
def test_open_speed_begins_where_its_range_does(to: str, least: float, most: float) -> None:
    (ramp, *_) = [
        phase for phase in phases_of(walker(to), lambda *_: None) if isinstance(phase, Ramp)
    ]
    assert ramp.to == Span(pytest.approx(least), pytest.approx(most))
