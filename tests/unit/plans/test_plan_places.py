"""Where encounters happen, on paths that lead anywhere but along x. All figures invented."""

import math
from pathlib import Path

import pytest

from choreo.scenario import loads
from tests.answers import timing_of

TEXT = """\
choreo: 1
title: places
paths:
  lane: {start: [10 m, 20 m], heading: 30 deg, pieces: [{line: 400 m}]}
  across: {start: [CROSSES], heading: 120 deg, pieces: [{line: 60 m}]}
movers:
  subject:
    path: lane
    body: {length: 4.3 m, width: 1.8 m, front overhang: 3.4 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    programme:
      - ramp: {to: 36 km/h}
      - hold: {settle: 1 s, until: contact}
  other:
    path: across
    body: {length: 0.6 m, width: 0.5 m}
    limits: {speed: 30 km/h, accelerate: 2 m/s2, brake: 4 m/s2}
    programme:
      - ramp: {to: 5 km/h}
      - hold: {settle: 1 s, until: contact}
encounters:
  contact: {kind: contact, of: subject, with: other, IMPACT}
"""


def on_lane(station_m: float, left_m: float) -> tuple[float, float]:
    """A point of the site beside the lane, worked out by hand."""
    cos, sin = math.cos(math.radians(30)), math.sin(math.radians(30))
    return 10 + station_m * cos - left_m * sin, 20 + station_m * sin + left_m * cos


@pytest.mark.parametrize(
    ("impact", "forward_m", "left_m"),
    [
        ("offset: 0.45 m", 3.4, 0.45),
        ("offset: -0.45 m", 3.4, -0.45),
        # It comes from the right; the rear is 0.9 m behind the reference point.
        ("side: 50 %", 2.15 - 0.9, -0.9),
    ],
)
def test_place_of_a_contact_is_where_the_body_is_hit(
    impact: str, forward_m: float, left_m: float
) -> None:
    x_m, y_m = on_lane(300.0, -30.0)
    text = TEXT.replace("CROSSES", f"{x_m:.6f} m, {y_m:.6f} m").replace("IMPACT", impact)
    plan = timing_of(loads(text, "a.yaml", Path()))
    assert plan.verdict == "feasible", plan.conflicts
    contact = plan.encounters["contact"]
    assert contact.place == pytest.approx(
        on_lane(contact.station_of_m + forward_m, left_m), abs=1e-5
    )
