"""A planned motion at one time and at many, before it begins, inside and after it ends."""

import numpy as np
import pytest

from choreo.track.motion import PlannedMotion
from tests.unit.track.tracks_by_hand import random_track, stations

# Rolls at 4 m/s, from 2 s on 1 m/s2 for 3 s, then -2 m/s2 until rest (elementary sums below).
ROLLING = PlannedMotion(
    10.0, 4.0, np.array([(2.0, 3.0, 10.0, 4.0, 1.0, 0.0), (5.0, 3.5, 26.5, 7.0, -2.0, 0.0)])
)
STANDING = PlannedMotion(3.0, 0.0, np.zeros((0, 6)))


@pytest.mark.parametrize(
    ("time_s", "station_m", "speed_mps", "accel_mps2"),
    [
        (0.0, 2.0, 4.0, 0.0),
        (2.0, 10.0, 4.0, 1.0),
        (4.0, 20.0, 6.0, 1.0),
        (5.0, 26.5, 7.0, -2.0),
        (8.5, 38.75, 0.0, -2.0),
        (99.0, 38.75, 0.0, 0.0),
    ],
)
def test_states_are_what_the_sums_say(
    time_s: float, station_m: float, speed_mps: float, accel_mps2: float
) -> None:
    state = ROLLING.state(time_s)
    found = (state.station_m, state.speed_mps, state.accel_mps2)
    assert found == pytest.approx((station_m, speed_mps, accel_mps2))


def test_motion_without_pieces_stands() -> None:
    assert (STANDING.moves, STANDING.end_s) == (False, 0.0)
    state = STANDING.state(5.0)
    assert (state.station_m, state.speed_mps, state.accel_mps2) == (3.0, 0.0, 0.0)


def test_what_ends_nearly_at_rest_stays_there() -> None:
    nearly = PlannedMotion(0.0, 1.0, np.array([(0.0, 1.0, 0.0, 1.0, -1.0 + 1e-9, 0.0)]))
    assert nearly.state(1e6).speed_mps == 0.0
    assert nearly.state(1e6).station_m == pytest.approx(0.5)


def test_many_times_give_what_each_one_gives_and_what_loops_over_pieces_give() -> None:
    random = np.random.default_rng(3)
    moving = [one for one in (random_track(random) for _ in range(30)) if one.moves]
    assert len(moving) > 10
    for one in moving:
        times = random.uniform(0.0, one.end_s + 3.0, 50)
        s, v = one.states(times)
        single = [one.motion.state(float(t)) for t in times]
        assert s == pytest.approx([state.station_m for state in single])
        assert v == pytest.approx([state.speed_mps for state in single])
        assert s == pytest.approx(stations(one, times))


def test_bound_of_acceleration_holds_between_any_two_times() -> None:
    random = np.random.default_rng(4)
    moving = [one for one in (random_track(random) for _ in range(20)) if one.moves]
    assert len(moving) > 5
    for one in moving:
        ends = np.sort(random.uniform(-1.0, one.end_s + 2.0, (100, 2)), axis=1)
        bounds = one.motion.most_accel(ends[:, 0], ends[:, 1])
        for share in np.linspace(0.0, 1.0, 9):
            at = ends[:, 0] + share * (ends[:, 1] - ends[:, 0])
            accels = np.array([abs(one.motion.state(float(t)).accel_mps2) for t in at])
            assert (accels <= bounds + 1e-9).all()
