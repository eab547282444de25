"""Stops by failsafe from any instant: reaction, then braking at a constant rate to rest.

During its reaction a mover goes on as planned or, if that takes it farther, at the speed that it has.

Sources of the sums: reaction way plus v^2/(2 b) is elementary; tests hold it against published rows (C41, C46, C47, C49
of tests/references/SOURCES.md).
"""

from __future__ import annotations

import numpy as np

from choreo.ground.stop import Stop
from choreo.plans.record import MoverPlan
from choreo.plans.room_record import FailsafeStop
from choreo.room.tolerances import SAME_DIGITS, STATION_M, STOP_STEP_S
from choreo.track.motion import Array
from choreo.track.tracks import Track
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True, eq=False)
class Stops:
    """Stops from many instants: where they are begun and where they end, stations in m, each of shape (n,).

    ways_m: no stop begun between an instant and the next one is longer.
    """

    times_s: Array
    here_m: Array
    ends_m: Array
    ways_m: Array


def stops_of(track: Track, stop: Stop) -> Stops:
    """Look at stops from instants in small steps, and from every one at which the farthest end can lie.

    The end of a stop, s + v^2/(2 b), only rises or falls between ends of pieces and instants at which the planned
    braking is that of the stop; the way of a stop begun in between is at most the farther end less the earlier station.
    With the speed held during the reaction the farthest end may lie between two steps: it is farther by less than a
    millimetre there.
    """
    times = _instants(track, stop)
    here, now = track.states(times)
    then, speed = track.states(times + stop.reaction_s)
    as_planned = stop.way_m(then - here, speed)
    held = stop.way_m(now * stop.reaction_s, now)
    ends = here + np.maximum(as_planned, held)
    later = np.append(ends[1:], ends[-1])
    return Stops(times, here, ends, np.maximum(ends, later) - here)


def _instants(track: Track, stop: Stop) -> Array:
    if not track.moves:
        return np.zeros(1)
    start, duration, _, _, accel, jerk = track.motion.pieces.T
    with np.errstate(divide="ignore", invalid="ignore"):
        turns = -(stop.brake_mps2 + accel) / jerk
    inside = np.isfinite(turns) & (turns > 0.0) & (turns < duration)
    changes = np.concatenate((start, [track.end_s], (start + turns)[inside]))
    steps = np.arange(0.0, track.end_s, STOP_STEP_S)
    times = np.unique(np.concatenate(([0.0], changes, changes - stop.reaction_s, steps)))
    return np.asarray(times[(times >= 0.0) & (times <= track.end_s)])


def failsafe_stop(track: Track, stop: Stop, planned: MoverPlan) -> FailsafeStop:
    """Find the longest stop, and how far beyond its encounters any stop can carry the mover."""
    stops = stops_of(track, stop)
    ways = stops.ends_m - stops.here_m
    worst = int(np.round(ways, SAME_DIGITS).argmax())
    farthest = float(stops.ends_m.max())
    runway = planned.runway
    zone_end = planned.start.station_m + runway.run_up_m + runway.encounter_m
    until_then = stops.ends_m[stops.here_m <= zone_end + STATION_M]
    return FailsafeStop(
        brake_mps2=stop.brake_mps2,
        reaction_s=stop.reaction_s,
        assumed=stop.assumed,
        longest_m=float(ways.max()),
        longest_at_s=float(stops.times_s[worst]),
        beyond_m=max(float(until_then.max()) - zone_end, 0.0),
        farthest_m=max(farthest - zone_end, 0.0),
        path_short_m=max(farthest - track.path.length_m, 0.0),
    )
