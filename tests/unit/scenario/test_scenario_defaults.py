"""What a file means where it says nothing, and where a sign or the far end of a table decides. All figures invented."""

from pathlib import Path

import numpy as np
import pytest

from choreo.problem import paths_by_mover
from choreo.scenario import Pass, Scenario, loads
from choreo.words import ChoreoError

TEXT = """\
choreo: 1
title: defaults
paths:
  lane: {start: [0 m, 0 m], heading: 0 deg, pieces: [PIECES]}
  side: {start: [200 m, -100 m], heading: 90 deg, pieces: [{line: 300 m}]}
movers:
  subject:
    path: lane
    body: {length: 4.3 m, width: 1.8 m}
    limits: {speed: 130 km/h, accelerate: {0 km/h: 3.5 m/s2, 100 km/h: 1.5 m/s2}, brake: 6 m/s2}
    programme: [{ramp: {RAMP}}]
  other:
    path: side
    body: {length: 4 m, width: 1.7 m}
    limits: {speed: 90 km/h, accelerate: 2 m/s2, brake: 6 m/s2}
    programme: [{ramp: {to: 30 km/h}}, {hold: {for: 5 s}}]
encounters:
  miss: {kind: pass, of: subject, with: other, distance: 2 m, first: other}
"""


def made(pieces: str = "{line: 400 m}", ramp: str = "to: 40 km/h") -> Scenario:
    """The scenario with another path or ramp of the subject."""
    return loads(TEXT.replace("PIECES", pieces).replace("RAMP", ramp), "a.yaml", Path())


def test_pass_is_between_bodies_unless_it_says_otherwise() -> None:
    miss = made().encounters["miss"]
    assert isinstance(miss, Pass)
    assert miss.between == "bodies"


@pytest.mark.parametrize("rate", [1.6, 3.5])
def test_rate_of_a_ramp_may_be_the_most_that_the_table_has(rate: float) -> None:
    (ramp, _) = made(ramp=f"to: 40 km/h, accelerate: {rate} m/s2").movers["subject"].programme
    assert ramp.accelerate_mps2 == rate


def test_rate_of_a_ramp_beyond_the_most_that_the_table_has_is_refused() -> None:
    with pytest.raises(ChoreoError) as caught:
        made(ramp="to: 40 km/h, accelerate: 3.6 m/s2")
    assert [one.code for one in caught.value.findings] == ["scenario.rate-over-limit"]


@pytest.mark.parametrize("to", ["40 km/h", "20..40 km/h", "0..40 km/h", "free"])
def test_mover_that_may_still_move_at_its_end_is_stopped(to: str) -> None:
    programme = made(ramp=f"to: {to}").movers["subject"].programme
    assert [(phase.kind, phase.implied) for phase in programme] == [("ramp", False), ("stop", True)]


@pytest.mark.parametrize(("radius", "turned_rad"), [("50 m", 0.3), ("-50 m", -0.3)])
@pytest.mark.parametrize("begins", [True, False])
def test_clothoid_turns_to_the_side_of_its_radius(
    radius: str, turned_rad: float, begins: bool
) -> None:
    # Half of its length over its radius: 30 / 2 / 50.
    ends = f"from: {radius}, to: straight" if begins else f"from: straight, to: {radius}"
    path = paths_by_mover(made(f"{{clothoid: {{length: 30 m, {ends}}}}}, {{line: 300 m}}"))[
        "subject"
    ]
    assert path.pose(np.array([30.0])).heading_rad[0] == pytest.approx(turned_rad, abs=1e-9)
