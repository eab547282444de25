"""Published stopping distances through the product's failsafe stops: reaction, then braking to rest."""

import math

import numpy as np
import pytest

from choreo.ground.stop import Stop
from choreo.ground.surface import GRAVITY_MPS2, Surface
from choreo.plans.record import MoverPlan, Peak, Runway, StartMark
from choreo.room.stopping import failsafe_stop
from choreo.track.variants import CutTrack
from tests.unit.track.tracks_by_hand import straight, track

MPH_MPS = 0.44704
FOOT_M = 0.3048


def longest_m(speed_mps: float, brake_mps2: float, reaction_s: float) -> float:
    """The longest failsafe stop of a mover that drives along at one speed."""
    driving = track(straight(2000.0), [(5.0, 0.0, 0.0)], start_mps=speed_mps)
    mark = StartMark(0.0, 0.0, 0.0, 0.0, speed_mps)
    nothing = Peak(0.0, 0.0, 0.0, 0.0, speed_mps)
    planned = MoverPlan(mark, 0.0, "go", (), (), Runway(0.0, 0.0, 0.0, 0.0), nothing)
    return failsafe_stop(driving, Stop(brake_mps2, reaction_s, False), planned).longest_m


def test_textbook_stop_with_reaction_is_the_published_distance() -> None:
    # C47: textbook example (30.0 m/s, 7.00 m/s2, 0.500 s), SEEN: 79.29 m (0.01).
    assert longest_m(30.0, 7.00, 0.500) == pytest.approx(79.29, abs=0.01)


@pytest.mark.parametrize(("mph", "feet"), [(15, 76.7), (30, 196.7), (60, 566.0), (80, 908.3)])
def test_stopping_sight_distance_is_the_published_one(mph: int, feet: float) -> None:
    # C43: AASHTO stopping-sight table (Exhibit 3-1), SEEN: 3.675 V + 1.075 V^2/11.2 feet (0.15). Its first
    # coefficient is 2.5 s x 1.47 ft/s for the 1.46667 ft/s that a mph is: 0.00833 ft a mph too much.
    found = longest_m(mph * MPH_MPS, 11.2 * FOOT_M, 2.5) / FOOT_M
    assert found + 0.00833 * mph == pytest.approx(feet, abs=0.15 + 0.0001 * mph**2)


@pytest.mark.parametrize("grade", [-0.06, -0.03, 0.03, 0.06])
def test_grade_changes_the_stop_as_in_the_published_formula(grade: float) -> None:
    # C43: AASHTO formula with grade, SEEN: braking part V^2/(30 (a/32.2 + G)) feet, V in mph, a in ft/s2. It takes the
    # grade for its sine and 32.2 ft/s2 for g: 0.3 % at 6 %.
    surface = Surface(None, max(grade, 0.0), max(-grade, 0.0))
    # Rising ground is not counted upon: only the fall takes something away.
    brake = surface.braking(11.2 * FOOT_M)
    feet = longest_m(60 * MPH_MPS, brake, 0.0) / FOOT_M
    published = 60**2 / (30 * (11.2 / 32.2 + min(grade, 0.0)))
    assert feet == pytest.approx(published, rel=0.004)


@pytest.mark.parametrize(
    ("mph", "total_m"), [(20, 12), (30, 23), (40, 36), (50, 53), (60, 73), (70, 96)]
)
def test_stop_of_the_uk_highway_code_is_the_published_total(mph: int, total_m: float) -> None:
    # C46: UK Highway Code, rule 126, SEEN (whole metres; 0.6 m): a foot a mph of thinking, then 6.56 m/s2.
    speed = mph * MPH_MPS
    assert longest_m(speed, 6.56, mph * FOOT_M / speed) == pytest.approx(total_m, abs=0.6)


def test_mean_deceleration_of_a_stop_is_the_published_one() -> None:
    # C41: R13 Annex 4, SEEN: from 100 km/h, 80 km/h after 21.600 m and 10 km/h after 59.400 m give d_m = 6.430 m/s2.
    driving = track(straight(500.0), [(10.0, 0.0, 0.0)], start_mps=100 / 3.6)
    braking = CutTrack(driving, np.array([2.0]), 6.43)
    start = braking.states(np.array([2.0]))[0][0]
    ways = []
    for kmh in (80, 10):
        at = np.array([2.0 + (100 - kmh) / 3.6 / 6.43])
        station, speed = braking.states(at)
        assert speed[0] == pytest.approx(kmh / 3.6)
        ways.append(station[0] - start)
    assert ways == pytest.approx([21.600, 59.400], abs=1e-3)
    assert (80**2 - 10**2) / (25.92 * (ways[1] - ways[0])) == pytest.approx(6.430, abs=1e-3)


def test_reference_driver_stops_after_the_published_way() -> None:
    # C49: R157, table 1, SEEN; the way DERIVED: 60 km/h, 1.15 s, 0.6 s of linear build-up to 7.590 m/s2: 42.35 m,
    # 3.646 s (0.02). The build-up is a piece of the motion, the rest a stop.
    speed = 60 / 3.6
    driving = track(straight(500.0), [(1.15, 0.0, 0.0), (0.6, 0.0, -7.590 / 0.6)], start_mps=speed)
    stopping = CutTrack(driving, np.array([1.75]), 7.590)
    rest = stopping.rest_s()
    assert rest[0] == pytest.approx(3.646, abs=0.02)
    assert stopping.states(rest)[0][0] == pytest.approx(42.35, abs=0.02)


def test_braking_on_a_slope_is_what_the_weight_leaves() -> None:
    # Elementary: friction times the part of the weight across the slope, less its part along it.
    slippery = Surface(0.5, 0.0, 0.03)
    angle = math.atan(0.03)
    wanted = GRAVITY_MPS2 * (0.5 * math.cos(angle) - math.sin(angle))
    assert slippery.braking(7.0) == pytest.approx(wanted, rel=1e-12)
