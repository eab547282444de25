"""Gaps to a mover ahead, and when a trigger by gap is crossed, against figures worked out by hand."""

import math

import numpy as np
import pytest

from choreo.geometry import CurvePath
from choreo.verification.ahead import Ahead
from choreo.verification.crossing import crossing_s
from choreo.verification.integration import Motion, integrate
from choreo.verification.projection import gap_state
from tests.unit.geometry.made import built, chain, line, piece
from tests.unit.verification.paths_by_hand import Circle, Straight, body

# Fronts 3 m and rears 1 m from the reference point.
CAR = body(4.0, 1.8, 3.0)
LANE = Straight(length_m=800.0)
TEN = integrate(0.0, 10.0, 0.0, [40.0], [0.0], [0.0])


def ahead(motion: Motion, other: Motion, other_path=LANE, path=LANE) -> Ahead:
    """A car with another ahead of it."""
    return Ahead(path, CAR, motion, other_path, CAR, other)


def crossed_s(one: Ahead, setting: float, armed_s: float = 0.0, until_s: float = math.inf) -> float:
    """When the gap is at a setting first."""
    return crossing_s(one.motion, "gap", setting, None, armed_s, until_s, one)


def test_gap_is_from_front_to_rear() -> None:
    other = integrate(60.0, 6.0, 0.0, [40.0], [0.0], [0.0])
    gaps = ahead(TEN, other).gap_m(np.array([0.0, 5.0]))
    assert gaps == pytest.approx([56.0, 56.0 - 5.0 * 4.0], abs=1e-9)


def test_gap_that_falls_is_crossed_by_the_difference_of_speeds() -> None:
    # From 56 m at 4 m/s to 20 m.
    other = integrate(60.0, 6.0, 0.0, [40.0], [0.0], [0.0])
    assert crossed_s(ahead(TEN, other), 20.0) == pytest.approx(9.0, abs=1e-9)


def test_gap_to_one_that_brakes_is_crossed_by_the_square_root() -> None:
    # Both at 10 m/s, 26 m apart; from 2 s on the other brakes with 4 m/s2: 2 t^2 = 6 m.
    other = integrate(30.0, 10.0, 0.0, [2.0, 2.5], [0.0, -4.0], [0.0, 0.0])
    assert crossed_s(ahead(TEN, other), 20.0) == pytest.approx(2.0 + math.sqrt(3.0), abs=1e-9)


def test_gap_that_rises_is_crossed_too() -> None:
    # 10 m apart at 10 m/s; the other gains 2 m/s2 from 1 s on: t^2 = 9 m.
    other = integrate(14.0, 10.0, 0.0, [1.0, 5.0], [0.0, 2.0], [0.0, 0.0])
    assert crossed_s(ahead(TEN, other), 19.0) == pytest.approx(4.0, abs=1e-9)


def test_gap_is_looked_at_only_while_armed() -> None:
    other = integrate(60.0, 6.0, 0.0, [40.0], [0.0], [0.0])
    assert crossed_s(ahead(TEN, other), 20.0, 10.0, 12.0) == math.inf
    assert crossed_s(ahead(TEN, other), 20.0, 0.0, 8.9) == math.inf


def test_gap_that_is_never_so_small_is_never_crossed() -> None:
    other = integrate(60.0, 10.0, 0.0, [40.0], [0.0], [0.0])
    assert crossed_s(ahead(TEN, other), 20.0) == math.inf


def test_front_of_one_that_comes_towards_is_what_faces() -> None:
    # From station 0 at x 200 westwards: 200 - 3 - 3 m, closing with 16 m/s.
    towards = Straight(200.0, 0.0, math.pi, 400.0)
    other = integrate(0.0, 6.0, 0.0, [40.0], [0.0], [0.0])
    one = ahead(TEN, other, towards)
    assert one.gap_m(np.array([0.0]))[0] == pytest.approx(194.0, abs=1e-9)
    assert crossed_s(one, 34.0) == pytest.approx(10.0, abs=1e-9)


def test_gap_on_a_circle_counts_along_it() -> None:
    # The rear is 1 m behind on the tangent: atan(1 / 80) of the circle.
    circle = Circle(80.0, 400.0)
    other = integrate(40.0, 10.0, 0.0, [20.0], [0.0], [0.0])
    one = ahead(TEN, other, circle, circle)
    wanted = 40.0 - 80.0 * math.atan(1 / 80) - 3.0
    assert one.gap_m(np.array([0.0, 10.0])) == pytest.approx([wanted, wanted], abs=1e-9)


def test_many_instants_give_what_each_gives_alone() -> None:
    bends = CurvePath(
        [(80.0, 0.0, 0.0), (40.0, 0.0, 0.02), (60.0, 0.02, 0.02), (80.0, 0.02, 0.0)],
        (0.0, 0.0),
        0.3,
    )
    beside = CurvePath(
        [(90.0, 0.0, 0.0), (40.0, 0.0, 0.018), (140.0, 0.018, 0.0)], (10.0, -3.5), 0.3
    )
    other = integrate(40.0, 4.0, 0.0, [10.0, 4.0], [0.5, 0.0], [0.0, -0.2])
    one = ahead(TEN, other, beside, bends)
    times = np.linspace(0.0, 14.0, 57)
    alone = [gap_state(bends, CAR, TEN.state(t), beside, CAR, other.state(t)).gap_m for t in times]
    assert one.gap_m(times) == pytest.approx(alone, abs=1e-8)


def test_clock_has_every_change_of_both() -> None:
    other = integrate(60.0, 6.0, 0.3, [1.01], [0.5], [0.0])
    clock = ahead(TEN, other).clock_s(0.2, 3.0)
    assert {0.2, 3.0, *other.times_s} <= set(clock)
    assert np.diff(clock).max() <= 0.05 + 1e-12


def test_gap_on_a_path_that_winds_over_itself_is_of_the_same_pass() -> None:
    half = [(200.0, 0.0, 0.0), (50.0 * math.pi, 0.02, 0.02)]
    winding = CurvePath(half * 6)
    once_m = 2 * (200.0 + 50.0 * math.pi)
    for laps in range(3):
        other = integrate(60.0 + laps * once_m, 10.0, 0.0, [5.0], [0.0], [0.0])
        one = ahead(TEN, other, winding, winding)
        wanted = 60.0 + laps * once_m - 4.0
        assert one.gap_m(np.array([0.0, 3.0])) == pytest.approx([wanted, wanted], abs=1e-7)
        alone = gap_state(winding, CAR, TEN.state(3.0), winding, CAR, other.state(3.0))
        assert alone.gap_m == pytest.approx(wanted, abs=1e-7)


def test_gap_on_a_closed_path_is_to_the_next_end_round_the_loop() -> None:
    half = (line(200.0), piece("arc", radius_m=50.0, angle_rad=math.pi))
    spec = chain(*half, *half)
    spec.closed = True
    loop = built(spec)
    lap = 2 * (200.0 + 50.0 * math.pi)
    # The watched one starts 20 m before the lap's beginning, the other stands 60 m behind that: 80 - 4 m between them.
    motion = integrate(lap - 20.0, 10.0, 0.0, [40.0], [0.0], [0.0])
    other = integrate(60.0, 0.0, 0.0, (), (), ())
    one = Ahead(loop, CAR, motion, loop, CAR, other)
    found = crossing_s(motion, "gap", 16.0, None, 0.0, math.inf, one)
    assert found == pytest.approx(6.0, abs=1e-6)
    # Behind it the gap counts nearly a lap, and falls to 30 m only round the loop.
    later = crossing_s(motion, "gap", lap - 24.0, None, 7.0, math.inf, one)
    assert later == pytest.approx(10.0, abs=1e-6)
