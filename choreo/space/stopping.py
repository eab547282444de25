"""Stops by failsafe from any instant: reaction, then braking at a constant rate to rest.

Sources of the sums: reaction way plus v^2/(2 b) is elementary; tests hold it against published rows (C41, C46, C47, C49
of tests/references/SOURCES.md).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from choreo.ground.surface import GRAVITY_MPS2, Surface
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
    """How a mover stops by failsafe where it drives: braking in m/s2 (magnitude), reaction in s."""

    brake_mps2: float
    reaction_s: float
    assumed: bool

    def way_m(self, reach_m: Array, speed_mps: Array) -> Array:
        """Give the way in m of stops whose reaction takes reach_m and ends at speed_mps, shape (n,)."""
        return reach_m + speed_mps**2 / (2.0 * self.brake_mps2)


def stop_of(limits: Limits, surface: Surface) -> Stop:
    """Choose a mover's failsafe stop: as the scenario gives it, else assumed; less where the surface gives less."""
    if limits.failsafe is not None:
        level, reaction = limits.failsafe.brake_mps2, limits.failsafe.reaction_s
    else:
        friction = ASSUMED_FRICTION if surface.friction is None else surface.friction
        level = min(limits.brake_mps2, ASSUMED_SHARE_OF_GRIP * friction * GRAVITY_MPS2)
        reaction = ASSUMED_REACTION_S
    return Stop(surface.braking(level), reaction, limits.failsafe is None)


def instants(track: Track, reaction_s: float) -> Array:
    """Give times in s dense enough to look at stops from: every end of a piece, and steps in between."""
    if not track.moves:
        return np.zeros(1)
    ends = np.concatenate((track.pieces[:, 0], [track.end_s]))
    steps = np.arange(min(0.0, track.launch_s), track.end_s, STOP_STEP_S)
    times = np.unique(np.concatenate((ends, ends - reaction_s, steps)))
    return np.asarray(times[times <= track.end_s])


def failsafe_stop(track: Track, stop: Stop, planned: MoverPlan) -> FailsafeStop:
    """Find the longest stop, and how far beyond its encounters any stop can carry the mover."""
    times = instants(track, stop.reaction_s)
    here, _ = track.states(times)
    then, speed = track.states(times + stop.reaction_s)
    ways = stop.way_m(then - here, speed)
    worst = int(ways.argmax())
    reaches = here + ways
    farthest = float(reaches.max())
    runway = planned.runway
    zone_end = planned.start.station_m + runway.run_up_m + runway.encounter_m
    until_then = reaches[here <= zone_end + STATION_M]
    return FailsafeStop(
        brake_mps2=stop.brake_mps2,
        reaction_s=stop.reaction_s,
        assumed=stop.assumed,
        longest_m=float(ways[worst]),
        longest_at_s=float(times[worst]),
        beyond_m=max(float(until_then.max()) - zone_end, 0.0),
        farthest_m=max(farthest - zone_end, 0.0),
        path_short_m=max(farthest - track.path.length_m, 0.0),
    )
