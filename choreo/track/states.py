"""Where a mover is and how fast, from the plan's pieces alone."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass

from choreo.motion.cubic import gained, travelled
from choreo.plans.record import MoverPlan, Piece

# Speeds below this are rest; the solver leaves 1e-15.
REST_MPS = 1e-6


@dataclass(frozen=True, slots=True)
class State:
    """A mover at one moment."""

    station_m: float
    speed_mps: float
    accel_mps2: float


def state_at(mover: MoverPlan, time_s: float) -> State:
    """Give station, speed and acceleration time_s after go; before the launch it stands or rolls."""
    first = mover.pieces[0] if mover.pieces else None
    if first is None or time_s < first.start_s:
        early_s = 0.0 if first is None else first.start_s - time_s
        speed = mover.start.speed_mps
        return State(mover.start.station_m - speed * early_s, speed, 0.0)
    index = bisect_right(mover.pieces, time_s, key=lambda piece: piece.start_s) - 1
    piece = mover.pieces[index]
    into_s = time_s - piece.start_s
    if index == len(mover.pieces) - 1 and into_s > piece.duration_s:
        end = _inside(piece, piece.duration_s)
        speed = end.speed_mps if end.speed_mps > REST_MPS else 0.0
        return State(end.station_m + speed * (into_s - piece.duration_s), speed, 0.0)
    return _inside(piece, into_s)


def _inside(piece: Piece, u: float) -> State:
    accel, jerk = piece.accel_mps2, piece.jerk_mps3
    station = piece.station_m + travelled(u, piece.speed_mps, accel, jerk)
    return State(station, piece.speed_mps + gained(u, accel, jerk), accel + u * jerk)


def end_s(mover: MoverPlan) -> float:
    """When its last piece ends, in s after go; 0 for one that only stands."""
    if not mover.pieces:
        return 0.0
    return mover.pieces[-1].start_s + mover.pieces[-1].duration_s
