"""Which way the subject heads where it is placed, and on which side something is missing. All figures invented."""

import math
from functools import cache
from pathlib import Path

import pytest
from shapely import box

from choreo.fit.location import Request
from choreo.fit.rectangle import least_rectangle
from choreo.fit.rigid import Rigid
from choreo.fit.short import Missing
from choreo.ground import Area, Ground
from choreo.placement.described import Describer
from choreo.placement.footprint import Footprint, footprint_for, smallest
from choreo.scenario import Scenario, loads
from choreo.scenario.records.site import AnchorSpec
from choreo.words import Origin

# The subject drives along x, turns left by 90 deg and is hit 150 m on by a target that comes from its left.
BENT = """\
choreo: 1
title: bent
paths:
  lane: {start: [0 m, 0 m], heading: TURNED deg, pieces: [{line: 150 m}, BEND]}
  side: {start: [SIDE], heading: HEADING deg, pieces: [{line: 200 m}]}
movers:
  subject:
    path: lane
    body: {length: 4.3 m, width: 1.8 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2}
    programme:
      - ramp: {to: 30 km/h}
      - hold: {settle: 1 s, until: contact}
  target:
    path: side
    body: {length: 4 m, width: 1.7 m}
    limits: {speed: 90 km/h, accelerate: 2 m/s2, brake: 6 m/s2}
    programme:
      - ramp: {to: 20 km/h}
      - hold: {settle: 1 s, until: contact}
encounters:
  contact: {kind: contact, of: target, with: subject, offset: 0 m, point: front centre}
"""
BEND = "{arc: {radius: 20 m, angle: 90 deg}}"


@cache
def bent() -> Footprint:
    """Left round the bend; the target drives along x."""
    text = BENT.replace("TURNED", "0").replace("BEND", f"{BEND}, {{line: 300 m}}")
    text = text.replace("SIDE", "70 m, 170 m").replace("HEADING", "0")
    return footprint_for(loads(text, "a.yaml", Path()))


def straight(turned_deg: float) -> Scenario:
    """One car alone on a lane that heads anywhere."""
    text = BENT.split("  side:")[0] + "movers:\n" + BENT.split("movers:\n")[1].split("  target:")[0]
    text = text.replace(", BEND", "")
    text = text.replace("settle: 1 s, until: contact", "for: 2 s")
    return loads(text.replace("TURNED", f"{turned_deg}"), "a.yaml", Path())


def test_subject_heads_as_it_does_at_the_encounter_even_if_another_hits_it() -> None:
    footprint = bent()
    assert footprint.plan.verdict == "feasible"
    assert math.degrees(footprint.heading_rad) == pytest.approx(90.0, abs=1e-6)


@pytest.mark.parametrize("turned_deg", [0.0, 30.0, 100.0, -170.0])
def test_subject_drives_along_the_smallest_rectangle_whatever_the_lane_heads_to(
    turned_deg: float,
) -> None:
    rectangle = smallest(straight(turned_deg), 1.0)
    assert rectangle.subject_deg is not None
    assert math.sin(math.radians(rectangle.subject_deg)) == pytest.approx(0.0, abs=1e-6)
    assert rectangle.length_m > 5 * rectangle.width_m


@pytest.mark.parametrize(
    ("away_deg", "side"),
    [(0, "east"), (90, "north"), (180, "west"), (-90, "south"), (45, "north-east")],
)
def test_what_sticks_out_is_told_by_the_compass(away_deg: float, side: str) -> None:
    # x bears 90 deg, east; y is to its left, north.
    pad = box(0, 0, 100, 50)
    anchor = AnchorSpec(7.5, 54.3, 90.0, 0.0, "EPSG:4326", Origin("site.yaml", 1, 1))
    ground = Ground("Invented pad", (Area("pad", pad, None, 0.0, 0.0),), {}, pad, anchor)
    shape = box(-60, -5, 60, 5)
    request = Request(shape, pad, (("pad", pad),), (0.0, 0.0), 0.0, math.radians(90.0))
    missing = Missing(Rigid(50.0, 25.0, 0.0), 10.0, (110.0, 25.0), math.radians(away_deg))
    found = Describer.shortfall(ground, request, missing, least_rectangle(shape), None, None)
    assert f"to the {side} at" in found.what
