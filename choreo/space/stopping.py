"""Stops by failsafe from any instant: reaction, then braking at a constant rate to rest.

During its reaction a mover goes on as planned or, if that takes it farther, at the speed that it has.

Sources of the sums: reaction way plus v^2/(2 b) is elementary; tests hold it against published rows (C41, C46, C47, C49
of tests/references/SOURCES.md).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from choreo.ground.surface import GRAVITY_MPS2, LEVEL, Surface
from choreo.plan.record import MoverPlan
from choreo.plan.space_record import FailsafeStop
from choreo.scenario import Limits
from choreo.space.tolerances import STATION_M, STOP_STEP_S
from choreo.space.track import Array, Track

# Without a failsafe in the scenario: a driverless stop is allowed 1.0 s of reaction and half the grip that
# there is (common practice, no source), on a track of the least friction that EN-FC v1.1 2.1 admits, 0.9.
ASSUMED_REACTION_S = 1.0
ASSUMED_SHARE_OF_GRIP = 0.5
ASSUMED_FRICTION = 0.9


@dataclass(frozen=True, slots=True)
class Stop:
    """How a mover stops by failsafe where it drives: braking in m/s2 (magnitude), reaction in s.

    level_mps2: its braking on level ground with enough grip; surface: what takes from it.
    """

    brake_mps2: float
    reaction_s: float
    assumed: bool
    level_mps2: float = math.inf
    surface: Surface = LEVEL

    def way_m(self, reach_m: Array, speed_mps: Array) -> Array:
        """Give the way in m of stops whose reaction takes reach_m and ends at speed_mps, shape (n,)."""
        return reach_m + speed_mps**2 / (2.0 * self.brake_mps2)

    def on(self, surface: Surface) -> Stop:
        """Give the same stop on another surface."""
        return replace(self, brake_mps2=surface.braking(self.level_mps2), surface=surface)


def stop_of(limits: Limits, surface: Surface) -> Stop:
    """Choose a mover's failsafe stop: as the scenario gives it, else assumed; less where the surface gives less.

    limits: as written, on level ground. The braking of the stop may come out zero or less: it can't stop then.
    """
    if limits.failsafe is not None:
        level, reaction = limits.failsafe.brake_mps2, limits.failsafe.reaction_s
    else:
        friction = ASSUMED_FRICTION if surface.friction is None else surface.friction
        level = min(limits.brake_mps2, ASSUMED_SHARE_OF_GRIP * friction * GRAVITY_MPS2)
        reaction = ASSUMED_REACTION_S
    return Stop(surface.braking(level), reaction, limits.failsafe is None, level, surface)


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
    """Look at stops from instants in small steps, and from every one at which the longest reach can lie.

    The reach s + v^2/(2 b) only rises or falls between ends of pieces and instants at which the planned braking
    is that of the stop; the way of a stop begun in between is at most the higher reach less the earlier station. With
    the speed held during the reaction the highest reach may lie between two steps: it is higher by less than a
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
    start, duration, _, _, accel, jerk = track.pieces.T
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
    worst = int(ways.argmax())
    farthest = float(stops.ends_m.max())
    runway = planned.runway
    zone_end = planned.start.station_m + runway.run_up_m + runway.encounter_m
    until_then = stops.ends_m[stops.here_m <= zone_end + STATION_M]
    return FailsafeStop(
        brake_mps2=stop.brake_mps2,
        reaction_s=stop.reaction_s,
        assumed=stop.assumed,
        longest_m=float(ways[worst]),
        longest_at_s=float(stops.times_s[worst]),
        beyond_m=max(float(until_then.max()) - zone_end, 0.0),
        farthest_m=max(farthest - zone_end, 0.0),
        path_short_m=max(farthest - track.path.length_m, 0.0),
    )
