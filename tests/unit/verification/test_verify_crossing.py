"""Trigger crossings against times worked out by hand."""

import math

import pytest

from choreo.verification.crossing import crossing_s
from choreo.verification.integration import integrate


def _ramp_and_hold():
    """0 to 10 m/s at 2 m/s2 (5 s, 25 m), 10 s at 10 m/s (100 m), 10 to 0 at 5 m/s2 (2 s, 10 m)."""
    return integrate(0.0, 0.0, 1.0, [5.0, 10.0, 2.0], [2.0, 0.0, -5.0], [0.0, 0.0, 0.0])


def test_station_in_the_ramp_is_crossed_by_the_square_root():
    assert crossing_s(_ramp_and_hold(), "station", 9.0, None, 0.0, math.inf) == pytest.approx(
        1.0 + 3.0, abs=1e-9
    )


def test_distance_counts_down_to_the_target():
    assert crossing_s(_ramp_and_hold(), "distance", 40.0, 115.0, 0.0, math.inf) == pytest.approx(
        1.0 + 5.0 + 5.0, abs=1e-9
    )


def test_time_to_collision_is_distance_over_speed():
    found = crossing_s(_ramp_and_hold(), "time to collision", 4.0, 115.0, 0.0, math.inf)
    assert found == pytest.approx(1.0 + 5.0 + 5.0, abs=1e-9)


def test_time_to_collision_already_short_in_the_ramp_is_found_there():
    # 30 m ahead at 5 s: s = t^2, v = 2 t, (30 - t^2) / (2 t) = 4 -> t = -4 + sqrt(46).
    found = crossing_s(_ramp_and_hold(), "time to collision", 4.0, 30.0, 0.0, math.inf)
    assert found == pytest.approx(1.0 - 4.0 + math.sqrt(46.0), abs=1e-9)


def test_speed_reached_exactly_at_the_ramps_end_counts():
    found = crossing_s(_ramp_and_hold(), "speed", 10.0, None, 0.0, math.inf)
    assert found == pytest.approx(6.0, abs=1e-6)


def test_falling_speed_is_watched_only_while_armed():
    found = crossing_s(_ramp_and_hold(), "speed", 5.0, None, 16.0, 18.0)
    assert found == pytest.approx(17.0, abs=1e-9)


def test_a_station_that_is_never_reached_never_crosses():
    assert crossing_s(_ramp_and_hold(), "station", 136.0, None, 0.0, math.inf) == math.inf


def test_time_since_go_needs_no_motion():
    assert crossing_s(_ramp_and_hold(), "time", 3.25, None, 0.0, math.inf) == 3.25


def test_a_condition_met_when_arming_acts_at_once():
    assert crossing_s(_ramp_and_hold(), "station", 9.0, None, 7.0, math.inf) == 7.0
