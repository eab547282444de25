"""Braking in a bend: what it asks of the tyres together, by the circle of friction (common practice, no source).

A tyre gives friction times its load in any direction, so braking and cornering at once need the root of the sum of
their squares. Load transfer, slope and the ellipse of a real tyre are left out.
"""

from __future__ import annotations

import numpy as np

from choreo.geometry import felt_mps2
from choreo.ground.stop import ASSUMED_FRICTION, LEAST_BRAKE_MPS2, Stop
from choreo.ground.surface import GRAVITY_MPS2
from choreo.motion import used_share
from choreo.room.stopping import stops_of
from choreo.scenario import Limits
from choreo.track.motion import Array
from choreo.track.tracks import Track
from choreo.words.records import dataclass

# A stop is looked at in so many places of its way, a planned braking every so many seconds.
LOOKS = 40
STEP_S = 0.02
# No more stops than this are looked at: of a long run every so many.
MOST_STOPS = 2000
# A share of the ellipse over 1 by less than this is rounding.
ROUNDING = 1e-6
# What is over the grip by less than this (m/s2) is rounding.
ROUNDING_MPS2 = 1e-6


@dataclass(frozen=True, slots=True)
class Demand:
    """What a braking asks for where it asks most: station in m, the rest in m/s2."""

    station_m: float
    lateral_mps2: float
    braking_mps2: float
    grip_mps2: float

    @property
    def over(self) -> bool:
        """Whether it is more than the tyres give, and because it is in a bend."""
        total = float(np.hypot(self.lateral_mps2, self.braking_mps2))
        return self.lateral_mps2 > 0.0 and total > self.grip_mps2 + ROUNDING_MPS2


def grip_of(stop: Stop) -> float:
    """Give the grip in m/s2 of the surface that a mover stops on; where none is told, of a dry track."""
    friction = stop.surface.friction
    return (ASSUMED_FRICTION if friction is None else friction) * GRAVITY_MPS2


def planned_demand(track: Track, stop: Stop) -> Demand:
    """Give the most that a mover asks for where it brakes by plan."""
    rows = track.motion.pieces
    stations, speeds, brakes = [np.zeros(1)], [np.zeros(1)], [np.zeros(1)]
    for start, duration, _, _, accel, jerk in rows:
        into = np.linspace(0.0, duration, max(2, int(np.ceil(duration / STEP_S)) + 1))
        station, speed = track.states(start + into)
        stations.append(station)
        speeds.append(speed)
        brakes.append(np.maximum(-(accel + jerk * into), 0.0))
    found = np.concatenate(stations), np.concatenate(speeds), np.concatenate(brakes)
    return _most(track, *found, grip_of(stop))


def stopping_demand(track: Track, stop: Stop) -> Demand:
    """Give the most that a failsafe stop from any instant asks for, its speed held through the reaction."""
    grip = grip_of(stop)
    if stop.brake_mps2 <= LEAST_BRAKE_MPS2:
        return Demand(0.0, 0.0, 0.0, grip)
    return _most(track, *_looks_at_stops(track, stop), grip)


def stopping_share(track: Track, stop: Stop, limits: Limits) -> tuple[float, Demand] | None:
    """Give the largest share of a mover's ellipse that a failsafe stop uses in a bend, and the demand there.

    Along its path it can brake as hard as its service brake or its failsafe does, whichever is more. None where it
    shares nothing between both, or no stop is in a bend.
    """
    if limits.combined == "none" or stop.brake_mps2 <= LEAST_BRAKE_MPS2:
        return None
    stations, speeds, brakes = _looks_at_stops(track, stop)
    lateral = felt_mps2(track.path, stations, speeds**2 * _bends(track, stations))
    most = max(limits.brake_mps2, stop.brake_mps2)
    used = np.where(lateral > 0.0, used_share(brakes, most, lateral, limits.lateral_mps2), 0.0)
    worst = int(used.argmax())
    if used[worst] == 0.0:
        return None
    at = float(stations[worst]), float(lateral[worst]), float(brakes[worst])
    return float(used[worst]), Demand(*at, grip_of(stop))


def _looks_at_stops(track: Track, stop: Stop) -> tuple[Array, Array, Array]:
    """Stations, speeds and brakings in many places of stops from any instant, shape (n,)."""
    stops = stops_of(track, stop)
    every = max(1, len(stops.times_s) // MOST_STOPS)
    here, speed = track.states(stops.times_s[::every])
    begins = here + speed * stop.reaction_s
    ways = speed**2 / (2.0 * stop.brake_mps2)
    shares = np.linspace(0.0, 1.0, LOOKS)
    stations = begins[:, None] + ways[:, None] * shares
    speeds = speed[:, None] * np.sqrt(1.0 - shares)
    brakes = np.where(speeds > 0.0, stop.brake_mps2, 0.0)
    return stations.ravel(), speeds.ravel(), brakes.ravel()


def _most(track: Track, stations_m: Array, speeds: Array, brakes: Array, grip: float) -> Demand:
    lateral = felt_mps2(track.path, stations_m, speeds**2 * _bends(track, stations_m))
    # Neither alone: a bend that is too fast, or a braking that is too hard, is told elsewhere.
    both = np.where((lateral > 0.0) & (brakes > 0.0), np.hypot(lateral, brakes), 0.0)
    worst = int(both.argmax())
    return Demand(float(stations_m[worst]), float(lateral[worst]), float(brakes[worst]), grip)


def _bends(track: Track, stations_m: Array) -> Array:
    """|curvature| in 1/m at stations, shape (n,): linear in each stretch, straight before and after all of them."""
    begins, ends, first, last = np.array(track.path.stretches(), dtype=float).reshape(-1, 4).T
    index = np.clip(np.searchsorted(begins, stations_m, side="right") - 1, 0, len(begins) - 1)
    share = (stations_m - begins[index]) / np.maximum(ends[index] - begins[index], 1e-12)
    bends = np.abs(first[index] + (last - first)[index] * share)
    return np.where((share >= 0.0) & (share <= 1.0), bends, 0.0)
