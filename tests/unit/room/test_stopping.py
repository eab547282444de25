"""Stops between the instants that are looked at are never longer than the bound says."""

import numpy as np
import pytest

from choreo.ground.stop import Stop
from choreo.room.stopping import stops_of
from choreo.track.tracks import Track
from tests.unit.track.tracks_by_hand import random_track, stations, straight, track

SPEEDING_UP = track(straight(500.0), [(8.0, 3.0, 0.0), (3.0, 0.0, 0.0), (4.8, -5.0, 0.0)])
RANDOM = np.random.default_rng(11)
TRACKS = [SPEEDING_UP, *(random_track(RANDOM) for _ in range(40))]
MOVING = [one for one in TRACKS if one.moves]
STOP = Stop(5.0, 0.6, False)
TINY_S = 1e-6
# Speeds are differences over TINY_S here; with the speed held, the highest reach may lie between two instants.
SLACK_M = 1.5e-3


def stopping_ways(one: Track, at_s: np.ndarray) -> np.ndarray:
    """Ways from the command to rest, the longer of both kinds of reaction."""
    here, then = stations(one, at_s), stations(one, at_s + STOP.reaction_s)
    now = (stations(one, at_s + TINY_S) - here) / TINY_S
    after = (stations(one, at_s + STOP.reaction_s + TINY_S) - then) / TINY_S
    as_planned = then - here + after**2 / (2 * STOP.brake_mps2)
    held = now * STOP.reaction_s + now**2 / (2 * STOP.brake_mps2)
    return np.asarray(np.maximum(as_planned, held))


@pytest.mark.parametrize("one", MOVING)
def test_no_stop_begun_between_two_instants_is_longer_than_their_bound(one: Track) -> None:
    stops = stops_of(one, STOP)
    steps = np.diff(stops.times_s)
    assert len(steps) > 100
    for share in (0.05, 0.35, 0.65, 0.95):
        ways = stopping_ways(one, stops.times_s[:-1] + share * steps)
        assert (ways <= stops.ways_m[:-1] + SLACK_M).all()


def test_bound_of_a_way_is_not_much_more_than_the_way() -> None:
    stops = stops_of(SPEEDING_UP, STOP)
    # In 10 ms at up to 24 m/s: 0.24 m nearer, and a reach that grows by less than twice as much again.
    assert (stops.ways_m - (stops.ends_m - stops.here_m)).max() < 3 * 0.24
