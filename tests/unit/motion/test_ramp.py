"""Ramps in closed form and the bounds made of them."""

import math

import numpy as np
import pytest
import ruckig
from hypothesis import given
from hypothesis import strategies as st

from choreo.motion import (
    least_between,
    least_ramp_distance_m,
    least_ramp_time_s,
    least_time_over_s,
    rated_ramp,
    table_value_mps2,
)

# Our own invention: a car that pulls less the faster it goes.
TABLE = ((0.0, 3.5), (60 / 3.6, 2.5), (130 / 3.6, 1.0))

speeds = st.floats(0.5, 40)
accels = st.floats(0.3, 9)
jerks = st.floats(0.5, 40)


def test_ramp_from_rest_has_the_textbook_time_and_distance() -> None:
    """Design, section 5: T = v/a + a/j and D = v T / 2 for v >= a^2/j (elementary)."""
    speed, accel, jerk = 80 / 3.6, 3.0, 4.0
    ramp = rated_ramp(0, speed, accel, build_up_jerk_mps3=jerk, release_jerk_mps3=jerk)
    assert ramp.duration_s == pytest.approx(speed / accel + accel / jerk, rel=1e-12)
    assert ramp.distance_m == pytest.approx(speed * ramp.duration_s / 2, rel=1e-12)


@pytest.mark.parametrize(
    ("start", "end", "accel", "jerk"),
    [(0, 50 / 3.6, 3, 5), (5, 20, 2, 1), (20, 5, 6, 10), (0, 0.5, 3, 2), (13, 0, 4, 8)],
)
def test_rated_ramp_takes_the_time_of_a_jerk_limited_time_optimal_reference(
    start: float, end: float, accel: float, jerk: float
) -> None:
    """Source: ruckig (community version), velocity interface, one degree of freedom."""
    request = ruckig.InputParameter(1)
    request.control_interface = ruckig.ControlInterface.Velocity
    request.current_velocity = [start]
    request.target_velocity = [end]
    request.max_acceleration = [accel]
    request.max_jerk = [jerk]
    trajectory = ruckig.Trajectory(1)
    ruckig.Ruckig(1).calculate(request, trajectory)
    ramp = rated_ramp(start, end, accel, build_up_jerk_mps3=jerk, release_jerk_mps3=jerk)
    assert ramp.duration_s == pytest.approx(trajectory.duration, rel=1e-9)
    position = trajectory.at_time(trajectory.duration)[0][0]
    assert ramp.distance_m == pytest.approx(position, rel=1e-9)


def test_reference_value_of_one_ramp_is_met() -> None:
    """0 -> 50 km/h at 3 m/s2, 5 m/s3: 5.229629629629630 s (v/a + a/j; agreed with ruckig)."""
    ramp = rated_ramp(0, 50 / 3.6, 3, build_up_jerk_mps3=5, release_jerk_mps3=5)
    assert ramp.duration_s == pytest.approx(5.229629629629630, rel=1e-14)


@given(speeds, speeds, accels, jerks)
def test_ramp_distance_equals_the_sum_over_fine_steps(
    start: float, end: float, accel: float, jerk: float
) -> None:
    ramp = rated_ramp(start, end, accel, build_up_jerk_mps3=jerk, release_jerk_mps3=jerk)
    sign = 1 if end >= start else -1
    speed, distance = start, 0.0
    for time, first, last in (
        (ramp.build_up_s, 0, ramp.peak_mps2),
        (ramp.constant_s, ramp.peak_mps2, ramp.peak_mps2),
        (ramp.release_s, ramp.peak_mps2, 0),
    ):
        t = np.linspace(0, time, 2001)
        a = sign * (first + (last - first) * np.linspace(0, 1, 2001))
        v = speed + np.concatenate([[0], np.cumsum((a[1:] + a[:-1]) / 2 * np.diff(t))])
        distance += float(np.sum((v[1:] + v[:-1]) / 2 * np.diff(t)))
        speed = float(v[-1])
    assert speed == pytest.approx(end, abs=1e-9)
    assert distance == pytest.approx(ramp.distance_m, rel=1e-5, abs=1e-9)


@given(speeds, accels, jerks, st.floats(0.05, 1))
def test_no_gentler_ramp_beats_the_bounds(
    end: float, accel: float, jerk: float, share: float
) -> None:
    table = ((0.0, accel),)
    gentler = rated_ramp(
        0, end, accel * share, build_up_jerk_mps3=jerk * share, release_jerk_mps3=jerk
    )
    assert least_ramp_time_s(0, end, table, jerk) <= gentler.duration_s * (1 + 1e-9)
    assert least_ramp_distance_m(0, end, table, jerk) <= gentler.distance_m * (1 + 1e-9)
    way = gentler.distance_m + 10
    needed = gentler.duration_s + 10 / end
    assert least_time_over_s(way, 0, end, table, jerk) <= needed * (1 + 1e-9)


def test_bounds_over_a_table_equal_fine_integration() -> None:
    v = np.linspace(0, 100 / 3.6, 200001)
    a = np.interp(v, [p[0] for p in TABLE], [p[1] for p in TABLE])
    time, distance = np.trapezoid(1 / a, v), np.trapezoid(v / a, v)
    assert least_ramp_time_s(0, v[-1], TABLE, math.inf) == pytest.approx(time, rel=1e-9)
    assert least_ramp_distance_m(0, v[-1], TABLE, math.inf) == pytest.approx(distance, rel=1e-9)


@pytest.mark.parametrize("rise", [0.0, 1.1e-6, -2e-6, 1e-5, 1e-4, -0.999e-3, 1.001e-3, 0.5, -0.9])
@pytest.mark.parametrize("start", [0.0, 20.0])
def test_bounds_over_a_table_of_any_steepness_are_exact(start: float, rise: float) -> None:
    table = ((start, 3.0), (start + 20.0, 3.0 * (1 + rise)))
    nodes, weights = np.polynomial.legendre.leggauss(60)
    v = start + 10.0 * (nodes + 1)
    slowness = 1 / (3.0 + 3.0 * rise * (v - start) / 20.0)
    time, distance = 10.0 * weights @ slowness, 10.0 * weights @ (v * slowness)
    end = start + 20.0
    assert least_ramp_time_s(start, end, table, math.inf) == pytest.approx(time, rel=1e-12)
    assert least_ramp_distance_m(start, end, table, math.inf) == pytest.approx(distance, rel=1e-12)


def test_table_is_linear_between_entries_and_flat_beyond() -> None:
    assert table_value_mps2(TABLE, -1) == 3.5
    assert table_value_mps2(TABLE, 30 / 3.6) == pytest.approx(3.0)
    assert table_value_mps2(TABLE, 99) == 1.0


@given(st.floats(2, 35), st.floats(0.5, 20))
def test_bounds_under_table_and_jerk_are_met_by_no_driven_profile(end: float, jerk: float) -> None:
    """Driven forward and backward in small steps, the quickest profile is never quicker than the bound."""
    v = np.linspace(0, end, 20001)
    table = np.interp(v, [p[0] for p in TABLE], [p[1] for p in TABLE])
    envelope = np.minimum(np.sqrt(2 * jerk * v), np.sqrt(2 * jerk * (end - v)))
    a = np.minimum(table, envelope)
    middle = (a[1:] + a[:-1]) / 2
    time = float(np.sum(np.diff(v) / middle))
    distance = float(np.sum((v[1:] + v[:-1]) / 2 * np.diff(v) / middle))
    assert least_ramp_time_s(0, end, TABLE, jerk) <= time * (1 + 1e-3)
    assert least_ramp_time_s(0, end, TABLE, jerk) >= time * (1 - 2e-2)
    assert least_ramp_distance_m(0, end, TABLE, jerk) <= distance * (1 + 1e-3)


@pytest.mark.parametrize("jerk", [1.0, 4.0, 1000.0])
def test_a_part_of_a_ramp_is_bounded_as_the_whole_is(jerk: float) -> None:
    """As fine integration has it, for falling ramps too; parts add up."""
    low, high, end = 9.0, 19.0, 20.0
    v = np.linspace(low, high, 100001)
    table = np.interp(v, [p[0] for p in TABLE], [p[1] for p in TABLE])
    a = np.minimum(table, np.minimum(np.sqrt(2 * jerk * v), np.sqrt(2 * jerk * (end - v))))
    time, distance = np.trapezoid(1 / a, v), np.trapezoid(v / a, v)
    bound = least_between(0, end, TABLE, jerk, (low, high))
    assert bound == pytest.approx((time, distance), rel=1e-6)
    assert bound == pytest.approx(least_between(end, 0, TABLE, jerk, (low, high)))
    rest = least_between(0, end, TABLE, jerk, (high, end))
    both = least_between(0, end, TABLE, jerk, (low, end))
    assert bound[0] + rest[0] == pytest.approx(both[0], abs=1e-9)
    assert bound[1] + rest[1] == pytest.approx(both[1], abs=1e-9)
