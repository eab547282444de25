"""Braking in a bend against the circle of friction, with sums by hand."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from choreo.case import whole_answer
from choreo.geometry import CurvePath
from choreo.ground.stop import Stop
from choreo.ground.surface import Surface
from choreo.room.grip import planned_demand, stopping_demand, stopping_share
from choreo.scenario import Limits, loads
from choreo.track.tracks import Track
from tests.unit.track.tracks_by_hand import straight, track

DRY = Stop(5.0, 0.5, False)
WET = Stop(5.0, 0.5, False, surface=Surface(friction=0.5))
# To 20 m/s in 50 m, then on; braking with 8 m/s2 begins at 110 m and takes 25 m.
DRIVES = [(5.0, 4.0, 0.0), (3.0, 0.0, 0.0), (2.5, -8.0, 0.0)]


def on_arc(radius_m: float) -> Track:
    """Straight on for 100 m, then a circle."""
    stretches = [(100.0, 0.0, 0.0), (300.0, 1 / radius_m, 1 / radius_m)]
    return track(CurvePath(stretches, (0.0, 0.0), 0.0), DRIVES)


def test_planned_braking_in_a_bend_is_the_root_of_the_squares() -> None:
    found = planned_demand(on_arc(80.0), DRY)
    assert found.station_m == pytest.approx(110.0, abs=1e-6)
    assert (found.lateral_mps2, found.braking_mps2) == pytest.approx((400 / 80, 8.0))
    assert math.hypot(found.lateral_mps2, found.braking_mps2) > found.grip_mps2
    assert found.grip_mps2 == pytest.approx(0.9 * 9.80665)
    assert found.over
    # Published pair: at 4 m/s2 sideways a grip of 0.9 leaves 7.8675 m/s2.
    assert planned_demand(on_arc(400 / 4.0), DRY).over
    assert not planned_demand(on_arc(400 / 3.7), DRY).over


def test_a_stop_from_any_instant_counts_where_it_may_brake_in_the_bend() -> None:
    assert not stopping_demand(on_arc(80.0), DRY).over
    wet = stopping_demand(on_arc(80.0), WET)
    assert wet.over
    assert wet.lateral_mps2 == pytest.approx(5.0, rel=0.02)
    assert wet.station_m >= 100.0


def test_a_stop_in_the_bend_as_a_share_of_the_ellipse() -> None:
    limits = Limits(50.0, ((0.0, 4.0),), 6.0, lateral_mps2=6.0, combined="ellipse")
    found = stopping_share(on_arc(80.0), DRY, limits)
    assert found is not None
    # 5 m/s2 sideways as it begins, and 5 of the 6 m/s2 along.
    assert found[0] == pytest.approx(math.hypot(5 / 6, 5 / 6), rel=0.01)
    assert stopping_share(on_arc(80.0), DRY, replace(limits, combined="none")) is None


def test_on_a_straight_or_into_a_gentle_clothoid_nothing_is_told() -> None:
    assert not planned_demand(track(straight(400.0), DRIVES), WET).over
    late = CurvePath([(120.0, 0.0, 0.0), (300.0, 0.0, 1 / 20.0)], (0.0, 0.0), 0.0)
    found = planned_demand(track(late, DRIVES), DRY)
    assert found.lateral_mps2 < 1.0
    assert np.isfinite(found.station_m)
    assert not found.over


SCENARIO = """
choreo: 1
title: brakes in a bend
paths:
  ring: {start: [0 m, 0 m], pieces: [{line: 100 m}, {arc: {radius: 80 m, angle: 200 deg}}]}
movers:
  subject:
    path: ring
    body: {length: 4.3 m, width: 1.8 m}
    limits: {speed: 90 km/h, accelerate: 4 m/s2, brake: 8 m/s2, lateral: 5.5 m/s2}
    start: {station: 0 m}
    programme: [ramp: {to: 72 km/h}, hold: {for: 90 m}, stop: {}]
"""


def test_plan_warns_of_it_with_station_and_figures() -> None:
    plan = whole_answer(loads(SCENARIO, "bend.yaml", Path())).plan
    assert plan.verdict == "feasible"
    (told,) = (one for one in plan.warnings if one.code == "space.slides")
    assert told.severity == "warning"
    for words in ("braking by plan of subject", "station 140.0 m", "5.00 m/s2", "8.00", "8.83"):
        assert words in told.text
