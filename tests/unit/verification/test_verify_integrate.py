"""The integrator against polynomials worked out by hand."""

import numpy as np
import pytest

from choreo.verification.integration import integrate


def test_constant_acceleration_gives_half_a_t_squared():
    motion = integrate(5.0, 0.0, 2.0, [4.0], [3.0], [0.0])
    station, speed = motion.state(2.0 + 4.0)
    assert station == pytest.approx(5.0 + 0.5 * 3.0 * 4.0**2, abs=1e-12)
    assert speed == pytest.approx(12.0, abs=1e-12)


def test_jerk_pieces_reproduce_the_cubic_between_and_at_nodes():
    motion = integrate(0.0, 1.0, 0.0, [1.234567], [-0.5], [2.0])
    t = np.linspace(0.0, 1.234567, 57)
    station, speed, accel = motion.at(t)
    assert np.abs(station - (t - 0.25 * t**2 + t**3 / 3)).max() < 1e-13
    assert np.abs(speed - (1 - 0.5 * t + t**2)).max() < 1e-13
    assert np.abs(accel[:-1] - (-0.5 + 2 * t[:-1])).max() < 1e-12


def test_jerk_limited_ramp_has_the_closed_form_time_and_length():
    # T = v/a + a/j and D = v T / 2 (design, section 5), 50 km/h at 3 m/s2 and 5 m/s3: 5.229629...
    # s.
    v, a, j = 50 / 3.6, 3.0, 5.0
    motion = integrate(0.0, 0.0, 0.0, [a / j, v / a - a / j, a / j], [0.0, a, a], [j, 0.0, -j])
    assert motion.end_s == pytest.approx(5.229629629629630, abs=1e-12)
    assert motion.stations_m[-1] == pytest.approx(v * 5.229629629629630 / 2, abs=1e-11)
    assert motion.speeds_mps[-1] == pytest.approx(v, abs=1e-12)


def test_before_launch_it_stands_and_after_the_end_it_rests():
    motion = integrate(7.0, 0.0, 3.0, [1.0, 1.0], [1.0, -1.0], [0.0, 0.0])
    assert motion.state(-5.0) == (7.0, 0.0)
    assert motion.state(50.0)[0] == pytest.approx(8.0, abs=1e-12)


def test_rolling_start_rolls_through_its_mark_at_launch():
    motion = integrate(10.0, 4.0, 2.0, [1.0], [0.0], [0.0])
    assert motion.state(0.0)[0] == pytest.approx(2.0, abs=1e-12)


def test_station_is_reached_when_the_quadratic_says():
    motion = integrate(0.0, 0.0, 1.0, [10.0], [2.0], [0.0])
    assert motion.time_at(9.0) == pytest.approx(1.0 + 3.0, abs=1e-9)
    assert motion.time_at(1e6) == np.inf


def test_pieces_without_duration_are_left_out():
    motion = integrate(0.0, 0.0, 0.0, [0.0, 2.0], [99.0, 1.0], [0.0, 0.0])
    assert motion.accels_from_mps2[0] == 1.0
    assert motion.stations_m[-1] == pytest.approx(2.0, abs=1e-12)
