"""Ramps of which nothing is left to choose: closed forms, tables by quadrature, never above the table."""

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import quad

from choreo.linear.profile import FOLLOWS_RATIO, Part, Profile, gentler, profile_of, way_per_time
from choreo.motion import table_value_mps2
from choreo.problem.records import Ramp
from choreo.scenario import Span

KMH = 1 / 3.6
TABLE = ((0.0, 3.6), (30 * KMH, 2.9), (80 * KMH, 1.4), (120 * KMH, 0.9))


def ramp(
    to_mps: float,
    table: tuple[tuple[float, float], ...] = ((0.0, 3.0),),
    jerk: float = math.inf,
    **more: float | bool | None,
) -> Ramp:
    """A ramp to a speed, at its limit unless more says otherwise."""
    fields: dict[str, object] = {
        "name": "ramp",
        "origin": None,
        "direction": 1,
        "to": Span(to_mps, to_mps),
        "table": table,
        "jerk_mps3": jerk,
        "rated": False,
        "is_stop": False,
        "build_up_s": None,
        "within_m": None,
        "over_m": None,
        "lasting_s": None,
    }
    return Ramp(**{**fields, **more})  # type: ignore[arg-type]


def made(one: Ramp, start_mps: float = 0.0) -> Profile:
    """Its profile, which must exist."""
    profile = profile_of(one, start_mps)
    assert profile is not None
    return profile


def test_from_rest_under_constant_limits_it_is_the_closed_form() -> None:
    """T = v/a + a/j and D = v T / 2 (elementary); 50 km/h, 3 m/s2, 5 m/s3."""
    speed = 50 * KMH
    profile = made(ramp(speed, jerk=5.0))
    assert profile.duration_s == pytest.approx(speed / 3 + 3 / 5, abs=1e-12)
    assert profile.way_m == pytest.approx(speed * profile.duration_s / 2, abs=1e-9)


@pytest.mark.parametrize("kmh", [50.0, 97.0, 115.0])
def test_along_a_table_time_and_way_are_the_quadratures(kmh: float) -> None:
    """T = integral of dv/a, D = integral of v dv/a (elementary), by adaptive quadrature."""
    profile = made(ramp(kmh * KMH, TABLE))
    knots = [speed for speed, _ in TABLE if speed < kmh * KMH]

    def integral(of: Callable[[float], float]) -> float:
        value, _ = quad(
            lambda v: of(v) / table_value_mps2(TABLE, v), 0.0, kmh * KMH, points=knots, epsabs=1e-12
        )
        return float(value)

    assert profile.duration_s == pytest.approx(integral(lambda v: 1.0), rel=1e-6)
    assert profile.way_m == pytest.approx(integral(lambda v: v), rel=1e-6)


@given(
    st.lists(st.tuples(st.floats(0.5, 6.0), st.floats(0.3, 4.0)), min_size=2, max_size=4),
    st.floats(0.1, 20.0),
)
def test_beyond_a_tables_last_speed_its_last_rate_is_kept_to_the_speed_asked_for(
    rows: list[tuple[float, float]], beyond_mps: float
) -> None:
    """Interpolated at its last speed a table is its last rate but for rounding: that is no step to be shared out."""
    speeds = np.cumsum([0.0, *(step for step, _ in rows[1:])])
    table = tuple(zip(speeds.tolist(), (accel for _, accel in rows), strict=True))
    last_mps, accel = table[-1]
    to_last, whole = made(ramp(last_mps, table)), made(ramp(last_mps + beyond_mps, table))
    rest_s = beyond_mps / accel
    assert whole.duration_s == pytest.approx(to_last.duration_s + rest_s, rel=FOLLOWS_RATIO)
    rest_m = rest_s * (last_mps + beyond_mps / 2)
    assert whole.way_m == pytest.approx(to_last.way_m + rest_m, rel=FOLLOWS_RATIO)
    assert whole.at(whole.duration_s)[1] == pytest.approx(last_mps + beyond_mps, rel=1e-9)


@pytest.mark.parametrize("jerk", [math.inf, 4.0])
def test_the_table_is_never_passed_and_nearly_reached(jerk: float) -> None:
    profile = made(ramp(115 * KMH, TABLE, jerk))
    times = np.linspace(0.0, profile.duration_s, 5000)
    states = [profile.at(float(u)) for u in times]
    left = np.array([table_value_mps2(TABLE, v) - a for _, v, a in states])
    assert left.min() > -1e-9
    assert np.median(left) < 1e-4


def test_a_prescribed_length_is_met_by_the_rate_that_gives_it() -> None:
    """Without jerk limit v^2 = 2 a D: 5 km/h over 1 m is 0.9645 m/s2."""
    profile = made(ramp(5 * KMH, ((0.0, 2.0),), over_m=1.0))
    assert profile.way_m == pytest.approx(1.0, abs=1e-9)
    assert profile.most_accel_mps2 == pytest.approx((5 * KMH) ** 2 / 2, rel=1e-9)


@pytest.mark.parametrize("start", [0.0, 20.0, 4.0])
def test_a_length_and_a_time_without_jerk_are_met_by_two_rates(start: float) -> None:
    """From 0 or 4 m/s to 10 m/s, from 20 m/s down: in 6 s, 3 m/s2 at most; the least and the most way are triangles."""
    change = 10.0 - start
    most_more = abs(change) / 2 * (6.0 - abs(change) / 3.0)
    mean_m = (start + 10.0) / 2 * 6.0
    for share in (-0.99, -0.3, 0.0, 0.3, 0.99):
        wanted = mean_m + share * most_more
        way = ramp(10.0, direction=1 if change > 0 else -1, over_m=wanted, lasting_s=6.0)
        profile = made(way, start)
        assert (profile.way_m, profile.duration_s) == pytest.approx((wanted, 6.0), rel=1e-9)
        assert profile.most_accel_mps2 <= 3.0 + 1e-9
        assert min(part.accel_mps2 * change for part in profile.parts) >= 0.0
    for beyond in (-1.01, 1.01):
        over = mean_m + beyond * most_more
        assert profile_of(ramp(10.0, over_m=over, lasting_s=6.0), start) is None


def test_a_length_that_the_limit_does_not_reach_gives_the_limit() -> None:
    profile = made(ramp(20.0, over_m=10.0))
    assert profile.most_accel_mps2 == pytest.approx(3.0)
    assert profile.way_m > 10.0


@given(
    start=st.floats(0, 30),
    end=st.floats(0, 30),
    rate=st.floats(0.5, 8),
    jerk=st.floats(1, 40),
    longer=st.floats(1.01, 5),
)
def test_gentler_ramps_last_as_long_as_asked_at_the_mean_speed(
    start: float, end: float, rate: float, jerk: float, longer: float
) -> None:
    assume(abs(end - start) >= 0.1)
    one = ramp(end, ((0.0, rate),), jerk)
    quickest = made(one, start)
    slower = gentler(one, start, longer * quickest.duration_s)
    assert slower is not None
    assert slower.duration_s == pytest.approx(longer * quickest.duration_s, rel=1e-9)
    mean = way_per_time(one, quickest)
    assert mean is not None
    assert slower.way_m == pytest.approx(mean * slower.duration_s, rel=1e-9)
    assert slower.most_jerk_mps3 <= jerk * (1 + 1e-9)


@given(start=st.floats(0, 20), end=st.floats(0, 20), share=st.floats(0, 1))
def test_when_is_the_inverse_of_speed(start: float, end: float, share: float) -> None:
    assume(abs(end - start) >= 0.1)
    profile = made(ramp(end, jerk=6.0), start)
    # Rounding may lead a hair past the end.
    speed = min(max(start + share * (end - start), min(start, end)), max(start, end))
    into = profile.when(speed)
    assert into is not None
    assert profile.at(into)[1] == pytest.approx(speed, abs=1e-6)


def test_a_table_that_asks_for_more_jerk_than_there_is_has_no_profile() -> None:
    steep = ((0.0, 4.0), (10.0, 4.0), (10.2, 1.0))
    assert profile_of(ramp(15.0, steep, 3.0), 0.0) is None
    assert profile_of(ramp(15.0, steep), 0.0) is not None


def test_an_open_end_speed_has_no_profile() -> None:
    assert profile_of(ramp(10.0, to=Span(5.0, 10.0)), 0.0) is None  # type: ignore[arg-type]


@pytest.mark.parametrize(("start_mps", "end_mps"), [(2.0, 17.0), (17.0, 2.0)])
def test_ways_of_many_speeds_are_those_of_each(start_mps: float, end_mps: float) -> None:
    rise = math.copysign(1.0, end_mps - start_mps)
    parts = (
        Part(0.5, 0.0, 6.0 * rise),
        Part(4.5, 3.0 * rise, 0.0),
        Part(0.5, 3.0 * rise, -6.0 * rise),
    )
    profile = Profile(start_mps, end_mps, parts)
    speeds = np.linspace(2.0, 17.0, 61)
    each = [profile.at(profile.when(speed) or 0.0)[0] for speed in speeds.tolist()]
    assert profile.ways_until(speeds).tolist() == each
    assert each[0 if rise > 0 else -1] == 0.0
    assert each[-1 if rise > 0 else 0] == pytest.approx(profile.way_m)
