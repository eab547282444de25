"""Drives along a path: what binds them, worked by hand; what can't be is told where and why."""

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest

from choreo.geometry import CurvePath
from choreo.geometry.sections import Section
from choreo.pace import Drive, Leg, TooSlow, Zone, drive, drive_lasting, lasts_s, zones_of

STRAIGHT = (Zone(0.0, 100.0, 0.0, 0.0, 0.0, math.inf),)
PLAIN = Drive(30.0, ((0.0, 3.0),), 3.0)
WINDING = CurvePath(
    [(100, 0, 0), (40, 0, 1 / 30), (20, 1 / 30, 1 / 30), (40, 1 / 30, 0), (60, 0, 0)], (0, 0), 0.0
)
JERKY = Drive(20.0, ((0.0, 2.5), (20.0, 1.0)), 4.0, 5.0, 4.0)


def zones(path: CurvePath, *sections: Section) -> tuple[Zone, ...]:
    return zones_of(path, sections, 0.0, path.length_m)


def most_used(path: CurvePath, legs: tuple[Leg, ...], within: Drive) -> tuple[float, float]:
    """Largest use of the lateral limit, and of the ellipse, looked at on a dense clock."""
    lateral, together = 0.0, 0.0
    for leg in legs:
        for u in np.linspace(0.0, leg.duration_s, 200):
            way, speed, accel = (u * leg.from_mps, leg.from_mps, 0.0)
            if leg.profile is not None:
                way, speed, accel = leg.profile.at(float(u))
            at = min(max(leg.start_m + way, leg.start_m), leg.end_m)
            bend = abs(float(path.pose(np.array([at - 1e-9])).curvature_per_m[0]))
            used = speed**2 * bend / within.lateral_mps2
            rate = within.accelerates(speed) if accel > 0 else within.brake_mps2
            lateral = max(lateral, used)
            if bend > 0.0:
                together = max(together, math.hypot(used, accel / rate))
    return lateral, together


def test_from_rest_to_rest_takes_twice_the_root_of_way_over_rate() -> None:
    assert lasts_s(drive(STRAIGHT, 0.0, 0.0, PLAIN)) == pytest.approx(2 * math.sqrt(100 / 3))


def test_a_jerk_limit_costs_what_the_closed_form_says() -> None:
    # From rest to rest over 100 m, peak v: each half takes v/a + a/j and way v/2 times that.
    legs = drive(STRAIGHT, 0.0, 0.0, Drive(30.0, ((0.0, 3.0),), 3.0, 5.0))
    peak = legs[0].to_mps
    assert peak * (peak / 3 + 3 / 5) == pytest.approx(100.0)
    assert lasts_s(legs) == pytest.approx(2 * (peak / 3 + 3 / 5))


def test_no_speed_is_gained_that_is_lost_again_at_once() -> None:
    # From 10 to 20.02 m/s at 2 m/s2 and 5 m/s3 takes 5.41 s and 81.20 m, back to 20 m/s 0.13 s and 2.53 m.
    fast = (Zone(0.0, 83.74, 0.0, 0.0, 0.0, math.inf), Zone(83.74, 150.0, 0.0, 0.0, 0.0, 20.0))
    within = Drive(30.0, ((0.0, 2.0),), 3.0, 5.0)
    legs = drive(fast, 10.0, None, within)
    assert [(one.from_mps, one.to_mps) for one in legs] == [(10.0, 20.0), (20.0, 20.0)]
    assert legs[0].end_m == pytest.approx(15.0 * 5.4)
    assert legs[-1].end_m == pytest.approx(150.0)
    # The same the other way round.
    slow = tuple(replace(one, start_m=150.0 - one.end_m, end_m=150.0 - one.start_m) for one in fast)
    back = drive(slow[::-1], 20.0, 10.0, replace(within, brake_mps2=2.0, table=((0.0, 3.0),)))
    assert [(one.from_mps, one.to_mps) for one in back] == [(20.0, 20.0), (20.0, 10.0)]
    assert lasts_s(back) == pytest.approx(lasts_s(legs))


def test_all_of_a_table_and_of_the_lateral_limit_is_used_and_no_more() -> None:
    for within in (JERKY, Drive(20.0, ((0.0, 2.5),), 4.0, math.inf, 4.0)):
        legs = drive(zones(WINDING), 0.0, 0.0, within)
        assert most_used(WINDING, legs, within)[0] == pytest.approx(1.0, abs=2e-6)
        assert legs[-1].end_m == pytest.approx(WINDING.length_m, abs=1e-6)
        assert all(
            a.end_m == pytest.approx(b.start_m, abs=1e-6) for a, b in itertools.pairwise(legs)
        )


@pytest.mark.parametrize("jerk", [math.inf, 5.0])
def test_under_the_ellipse_braking_leaves_what_cornering_needs(jerk: float) -> None:
    within = Drive(20.0, ((0.0, 2.5),), 4.0, jerk, 4.0, ellipse=True)
    legs = drive(zones(WINDING), 0.0, 0.0, within)
    assert most_used(WINDING, legs, within)[1] <= 1.0 + 1e-3
    free = drive(zones(WINDING), 0.0, 0.0, Drive(20.0, ((0.0, 2.5),), 4.0, jerk, 4.0))
    assert most_used(WINDING, free, within)[1] > 1.01
    assert lasts_s(free) < lasts_s(legs) < 1.15 * lasts_s(free)


def test_a_window_is_kept_and_one_that_is_missed_is_told_with_its_place() -> None:
    slow = Section(40.0, 60.0, 28 / 3.6, 32 / 3.6, None, 0)
    zoned = zones_of(CurvePath([(100, 0, 0)], (0, 0), 0.0), (slow,), 0.0, 100.0)
    legs = drive(zoned, 0.0, 0.0, PLAIN)
    assert any(one.is_hold and one.from_mps == pytest.approx(32 / 3.6) for one in legs)
    early = Section(5.0, 60.0, 28 / 3.6, 32 / 3.6, None, 0)
    zoned = zones_of(CurvePath([(100, 0, 0)], (0, 0), 0.0), (early,), 0.0, 100.0)
    with pytest.raises(TooSlow) as told:
        drive(zoned, 0.0, 0.0, PLAIN)
    assert told.value.station_m == pytest.approx(5.0)


def test_up_by_next_to_nothing_and_down_again_is_a_hold() -> None:
    # Between two curves there is a place where the path allows 0.03 m/s more.
    bends = (1 / 40, 1 / 40.1, 1 / 40)
    path = CurvePath([(6, one, one) for one in bends], (0, 0), 0.0)
    legs = drive(
        zones(path), math.sqrt(4.0 * 40), None, replace(PLAIN, jerk_mps3=5.0, lateral_mps2=4.0)
    )
    assert [(one.is_hold, one.start_m, one.end_m) for one in legs] == [(True, 0.0, 18.0)]


def test_a_bank_lets_a_drive_go_faster_and_a_bank_to_the_outside_slower() -> None:
    # The same share of grip: g (tan t + mu) / (1 - mu tan t) = v^2 / R.
    mu, speeds = 4.0 / 9.80665, []
    for bank in (0.2, 0.0, -0.2):
        banks = ((0.0, 300.0, bank),) if bank else ()
        path = CurvePath([(300, 1 / 40, 1 / 40)], (0, 0), 0.0, banks=banks)
        within = replace(PLAIN, lateral_mps2=4.0)
        legs = drive(zones_of(path, (), 0.0, 300.0, 4.0), 0.0, None, within)
        speeds.append(legs[-1].to_mps)
        most = 9.80665 * (math.tan(bank) + mu) / (1 - mu * math.tan(bank)) * 40
        assert speeds[-1] == pytest.approx(math.sqrt(most))
    assert speeds == sorted(speeds, reverse=True)


def test_a_window_over_what_its_curve_allows_is_told() -> None:
    tight = Zone(0.0, 50.0, 1 / 30, 1 / 30, 20.0, 25.0)
    with pytest.raises(TooSlow, match="its curve"):
        drive((tight,), 5.0, None, replace(PLAIN, lateral_mps2=4.0))


@pytest.mark.parametrize("jerk", [math.inf, 5.0])
def test_too_fast_at_the_start_and_too_much_at_the_end_are_told(jerk: float) -> None:
    within = Drive(30.0, ((0.0, 3.0),), 3.0, jerk)
    with pytest.raises(TooSlow):
        drive(STRAIGHT, 28.0, 0.0, within)
    with pytest.raises(TooSlow):
        drive(STRAIGHT, 0.0, 28.0, within)


def test_the_gentlest_takes_just_as_long_as_asked_with_a_share_of_the_limits() -> None:
    # Way over rate times root: twice the time takes a quarter of the rate.
    legs, share = drive_lasting(STRAIGHT, 0.0, 0.0, PLAIN, 4 * math.sqrt(100 / 3))
    assert share == pytest.approx(0.25, abs=1e-6)
    assert lasts_s(legs) == pytest.approx(4 * math.sqrt(100 / 3), abs=1e-5)


def test_a_curve_that_ends_at_the_speed_of_its_limit_leaves_no_leg_without_length() -> None:
    """Where braking meets the limit at a curve's end but for rounding; from rest to rest in so many metres."""
    k = 0.04, -1.5265566588595902e-16
    easing = Zone(415.3848852752265, 430.38488527522657, *k, 0.0, math.inf)
    within = Drive(70 / 3.6, ((0.0, 1.5),), 2.5, lateral_mps2=3.0)
    # To the highest speed and back: the way is v^2/2 (1/up + 1/down).
    most = math.sqrt(2 * 15.0 / (1 / 1.5 + 1 / 2.5))
    legs = drive((easing,), 0.0, 0.0, within)
    assert lasts_s(legs) == pytest.approx(most / 1.5 + most / 2.5)
