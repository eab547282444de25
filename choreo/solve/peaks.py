"""The largest values that a motion comes to, lateral acceleration on its path among them."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from choreo.geometry import Path, banks_of, felt_mps2
from choreo.motion.cubic import gained, travelled
from choreo.plans.record import Peak, Piece
from choreo.solve.running import Vector
from choreo.words.records import dataclass

# Looks at a piece: a peak between two of them is missed by less than 0.02 % of what the value varies by on the piece.
SAMPLES = 80
# Looks at a part of a piece on one stretch of the path, then again around the best of them. The last are 1e-5 of the
# part from each other, so that a smooth peak is found to some 1e-9 of itself; of two peaks that differ by less than the
# first looks tell, 0.02 %, it may be the lower one.
LOOKS = (33, 9, 9, 9, 9)
# The first and the last look lie so far inside (as a share of the part): at the end itself curvature may jump.
INSIDE = 1e-9
# Looks that come as near to a bound as this share of it have found the largest value.
REACHED = 1.0 - 1e-12
# The time at which a station is passed is looked for until it moves by no more (s), in so many steps at most.
ARRIVED_S = 1e-12
HALVINGS = 60
# Parts that are looked at together, those that can have the largest value first.
AT_ONCE = 64


def peak_of(pieces: tuple[Piece, ...], path: Path, start_mps: float) -> Peak:
    """Give the peaks of one mover's motion along its path."""
    accels, jerks, speeds = [0.0], [0.0], [start_mps]
    for piece in pieces:
        last_mps2 = piece.accel_mps2 + piece.duration_s * piece.jerk_mps3
        accels += [piece.accel_mps2, last_mps2]
        speeds.append(_fastest_mps(piece, last_mps2))
        jerks.append(abs(piece.jerk_mps3))
    lateral = _lateral_mps2(pieces, path)
    return Peak(max(accels), abs(min(accels)), max(jerks), lateral, max(speeds))


def _fastest_mps(piece: Piece, last_mps2: float) -> float:
    """The highest speed on a piece: at one of its ends, or where its acceleration passes zero."""
    if piece.accel_mps2 > 0.0 > last_mps2:
        u = np.linspace(0.0, piece.duration_s, SAMPLES)
        return float((piece.speed_mps + gained(u, piece.accel_mps2, piece.jerk_mps3)).max())
    last_mps = piece.speed_mps + gained(piece.duration_s, piece.accel_mps2, piece.jerk_mps3)
    return float(max(piece.speed_mps, last_mps))


@dataclass(frozen=True, slots=True)
class _Parts:
    """Parts of pieces on one stretch of the path each. Arrays of one row a part, shape (n, 1).

    pieces: (duration, station, speed, acceleration, jerk), each (n, 1); low_m, high_m: where the part begins and ends.
    bounds_mps2: no lateral acceleration on it is larger, shape (n,).
    """

    pieces: tuple[Vector, ...]
    low_m: Vector
    high_m: Vector
    bounds_mps2: Vector

    def only(self, which: NDArray[np.intp]) -> _Parts:
        pieces = tuple(part[which] for part in self.pieces)
        return _Parts(pieces, self.low_m[which], self.high_m[which], self.bounds_mps2[which])

    def station_m(self, u_s: Vector) -> Vector:
        _, station, speed, accel, jerk = self.pieces
        return np.asarray(station + travelled(u_s, speed, accel, jerk))

    def when_s(self, station_m: Vector) -> Vector:
        """When stations are passed, counted from the pieces' beginnings: a mover never goes back."""
        lasts, begin_m, speed, accel, jerk = self.pieces
        if not accel.any() and not jerk.any() and speed.all():
            return np.asarray(np.clip((station_m - begin_m) / speed, 0.0, lasts))
        early, late, u_s = np.zeros_like(lasts), lasts, lasts / 2
        for _ in range(HALVINGS):
            off = self.station_m(u_s) - station_m
            early, late = np.where(off < 0.0, u_s, early), np.where(off < 0.0, late, u_s)
            # Newton's way, and a halving where it leads out of the bracket or nothing moves.
            passing = speed + gained(u_s, accel, jerk)
            tried = u_s - off / np.where(passing > 0.0, passing, np.inf)
            inside = (passing > 0.0) & (tried >= early) & (tried <= late)
            before, u_s = u_s, np.where(inside, tried, (early + late) / 2)
            if np.all(np.abs(u_s - before) <= ARRIVED_S):
                break
        return np.asarray(u_s)

    def lateral_mps2(self, u_s: Vector, path: Path) -> Vector:
        """Speed squared times curvature at times, shape (n, k)."""
        _, _, speed, accel, jerk = self.pieces
        stations = self.station_m(u_s).ravel()
        curvature = path.pose(stations).curvature_per_m.reshape(u_s.shape)
        outward = np.asarray((speed + gained(u_s, accel, jerk)) ** 2 * np.abs(curvature))
        return felt_mps2(path, stations, outward.ravel()).reshape(u_s.shape)


def _lateral_mps2(pieces: tuple[Piece, ...], path: Path) -> float:
    """The largest lateral acceleration: parts are looked at by falling bound until none can have a larger one."""
    parts = _parts_of(pieces, path)
    most = 0.0
    order = np.argsort(-parts.bounds_mps2, kind="stable")
    order = order[parts.bounds_mps2[order] > 0.0]  # a straight is no part to look at
    for first in range(0, len(order), AT_ONCE):
        block = parts.only(order[first : first + AT_ONCE])
        block = block.only(np.flatnonzero(block.bounds_mps2 > most))
        if not len(block.bounds_mps2):
            break
        most = max(most, _most_of(block, path))
    return most


def _parts_of(pieces: tuple[Piece, ...], path: Path) -> _Parts:
    stretches = np.array(path.stretches(), dtype=float).reshape(-1, 4)
    bends = np.abs(stretches[:, 2:]).max(axis=1)
    rows, lows, highs, bounds = [np.empty((0, 5))], [np.empty(0)], [np.empty(0)], [np.empty(0)]
    for piece in pieces:
        accel, jerk, lasts = piece.accel_mps2, piece.jerk_mps3, piece.duration_s
        until_m = piece.station_m + travelled(lasts, piece.speed_mps, accel, jerk)
        first = int(np.searchsorted(stretches[:, 1], piece.station_m, side="right"))
        last = int(np.searchsorted(stretches[:, 0], until_m, side="left"))
        count = max(last - first, 0)
        # Speed peaks at an end of the piece, or where acceleration passes zero.
        turn = min(max(-accel / jerk, 0.0), lasts) if jerk != 0.0 else 0.0
        fastest = piece.speed_mps + max(gained(u, accel, jerk) for u in (0.0, turn, lasts))
        rows.append(np.tile((lasts, piece.station_m, piece.speed_mps, accel, jerk), (count, 1)))
        lows.append(np.maximum(stretches[first:last, 0], piece.station_m))
        highs.append(np.minimum(stretches[first:last, 1], until_m))
        # On a bank what is slow may ask for more than what is fast: nothing is left out.
        bounds.append(fastest**2 * bends[first:last] + (math.inf if banks_of(path) else 0.0))
    columns = np.concatenate(rows).T[:, :, None]
    low, high = np.concatenate(lows)[:, None], np.concatenate(highs)[:, None]
    return _Parts(tuple(columns), low, high, np.concatenate(bounds))


def _most_of(parts: _Parts, path: Path) -> float:
    """The largest lateral acceleration of some parts."""
    from_s, until_s = parts.when_s(parts.low_m), parts.when_s(parts.high_m)
    inset = INSIDE * (until_s - from_s)
    from_s, until_s = from_s + inset, until_s - inset
    most, row = 0.0, np.arange(len(from_s))
    for looks in LOOKS:
        u = from_s + (until_s - from_s) * np.linspace(0.0, 1.0, looks)
        values = parts.lateral_mps2(u, path)
        most = max(most, float(values.max()))
        if most >= REACHED * float(parts.bounds_mps2.max()):
            break  # at a steady speed in an arc the first look is as good as the last
        best = values.argmax(axis=1)
        from_s = u[row, np.maximum(best - 1, 0)][:, None]
        until_s = u[row, np.minimum(best + 1, looks - 1)][:, None]
    return most
