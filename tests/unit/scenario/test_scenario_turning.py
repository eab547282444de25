"""Movers that turn about a point are movers on an arc about it, what is counted in degrees laid along that arc."""

import math
from pathlib import Path

import numpy as np
import pytest

from choreo.case.record import case_of
from choreo.geometry import body_corners
from choreo.scenario import load, loads
from choreo.words import ChoreoError

FILE = Path(__file__).parents[3] / "scenarios" / "door-opens-before-cyclist.yaml"
HINGE = (49.0, 1.0)
LENGTH_M = 1.1


@pytest.mark.parametrize(("turned_deg", "points_deg"), [(0.0, 180.0), (40.0, 140.0), (70.0, 110.0)])
def test_door_reaches_from_its_hinge_outwards_wherever_it_is(
    turned_deg: float, points_deg: float
) -> None:
    case = case_of(load(FILE))
    station = math.radians(turned_deg) * LENGTH_M / 2
    pose = case.paths["door"].pose(np.array([station]))
    corners = body_corners(case.scenario.movers["door"].body.corners_m, pose)[0]
    points = math.radians(points_deg)
    along = (corners - HINGE) @ (math.cos(points), math.sin(points))
    across = (corners - HINGE) @ (-math.sin(points), math.cos(points))
    assert sorted(along) == pytest.approx([0.0, 0.0, LENGTH_M, LENGTH_M], abs=1e-9)
    assert sorted(across) == pytest.approx([-0.04, -0.04, 0.04, 0.04], abs=1e-9)


def test_degrees_are_lengths_along_the_arc_of_its_middle() -> None:
    door = load(FILE).movers["door"]
    degree = math.radians(1.0) * LENGTH_M / 2
    assert door.limits.speed_mps == pytest.approx(120 * degree)
    assert door.limits.accelerate == ((0.0, pytest.approx(400 * degree)),)
    ramp = next(phase for phase in door.programme if phase.kind == "ramp")
    assert ramp.to.lo == pytest.approx(60 * degree)
    assert ramp.accelerate_mps2 == pytest.approx(200 * degree)
    assert door.programme[-1].rests_m == pytest.approx(65 * degree)
    assert (door.start.station.lo, door.start.station.hi) == (0.0, 0.0)


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("about: [49 m, 1 m], ", "", "the point that it turns about is missing"),
        ("by: -70 deg, ", "", "`by` is missing"),
        ("by: -70 deg", "by: 0 deg", "none of a door"),
        ("by: -70 deg", "by: 70 m", "70 m"),
        ("from: 180 deg", "form: 180 deg", "form"),
        (
            "body: {length: 1.1 m, width: 0.08 m}",
            "body: {length: 1.1 m}",
            "`length` from the hinge",
        ),
        ("    turns:", "    path: lane\n    turns:", "`path`"),
        ("60 deg/s,", "60 deg/h,", "60 deg/h"),
    ],
)
def test_faults(old: str, new: str, told: str) -> None:
    text = FILE.read_text("utf-8")
    assert old in text
    with pytest.raises(ChoreoError) as caught:
        loads(text.replace(old, new, 1), str(FILE), FILE.parent)
    assert any(told in one.text for one in caught.value.findings)
    origins = [one.origin for one in caught.value.findings if one.origin]
    door = text.splitlines().index("  door:") + 1
    assert origins
    assert min(origin.line for origin in origins) > door
