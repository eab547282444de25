"""Limits that the rows only hold at points, looked at densely along the solved motion."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

import numpy as np

from choreo.motion.cubic import gained, travelled
from choreo.problem.records import CurvePoint, Ellipse, MoverProblem, Problem, Ramp
from choreo.solve.reading import MoverReading, PieceReading, Reading
from choreo.solve.running import Vector

# Looks at a piece: a maximum between two of them is missed by less than 0.03 % of what the value varies by on it.
SAMPLES = 60
# A look this near (m) to where two stretches of path meet may be of either.
JOINT_M = 1e-6


def excesses(problem: Problem, reading: Reading) -> Vector:
    """Give by how much each mover passes its acceleration table and its lateral limit, in m/s2.

    Returns shape (2 * movers,): table, lateral of each mover in turn, 0 where the limit holds. Curvature is
    that of the problem's curve points, linear between those of one stretch.
    """
    values = []
    for mover in problem.movers:
        motion = reading.movers[mover.name]
        values += [_table_excess(mover, motion), _lateral_excess(mover, motion)]
    return np.array(values)


def _dense(piece: PieceReading) -> tuple[Vector, Vector, Vector]:
    u = np.linspace(0.0, piece.duration_s, SAMPLES)
    accel, jerk = piece.accel_mps2, piece.jerk_mps3
    station = piece.station_m + travelled(u, piece.speed_mps, accel, jerk)
    return station, piece.speed_mps + gained(u, accel, jerk), accel + u * jerk


def _table_excess(mover: MoverProblem, motion: MoverReading) -> float:
    worst = 0.0
    for piece in motion.pieces:
        ramp = mover.phases[piece.phase]
        if isinstance(ramp, Ramp) and len(ramp.table) > 1:
            speeds, accels = zip(*ramp.table, strict=True)
            _, speed, accel = _dense(piece)
            worst = max(worst, float(np.max(np.abs(accel) - np.interp(speed, speeds, accels))))
    return worst


def _lateral_excess(mover: MoverProblem, motion: MoverReading) -> float:
    if not motion.pieces:
        return 0.0
    worst = 0.0
    if mover.curve:
        station, speed, _ = (
            np.concatenate(part) for part in zip(*map(_dense, motion.pieces), strict=True)
        )
        for lateral in _laterals(mover.curve, station, speed):
            worst = max(worst, float(np.max(lateral, initial=0.0)) - mover.lateral_mps2)
    if mover.ellipse is not None:
        for piece in motion.pieces:
            worst = max(worst, _together_excess(mover, mover.ellipse, piece))
    return worst


def _laterals(points: tuple[CurvePoint, ...], station: Vector, speed: Vector) -> Iterator[Vector]:
    """Lateral accelerations stretch by stretch: at each station in m with its speed in m/s, 0 off the stretch."""
    for _, group in groupby(points, key=lambda point: point.stretch):
        stretch = list(group)
        stations = np.array([point.station_m for point in stretch])
        curvatures = np.array([point.curvature_per_m for point in stretch])
        inside = (station > stations[0] + JOINT_M) & (station < stations[-1] - JOINT_M)
        yield np.where(inside, speed**2 * np.interp(station, stations, curvatures), 0.0)


def _together_excess(mover: MoverProblem, ellipse: Ellipse, piece: PieceReading) -> float:
    """By how much a ramp passes the ellipse, as an excess of the lateral limit."""
    ramp = mover.phases[piece.phase]
    if not isinstance(ramp, Ramp):
        return 0.0
    station, speed, accel = _dense(piece)
    most: Vector | float = ellipse.brake_mps2
    if ramp.direction > 0:
        most = np.interp(speed, *np.array(ellipse.accelerate).T)
    across_mps2 = mover.lateral_mps2
    return max(
        float(np.max(np.where(lateral > 0.0, np.hypot(accel / most, lateral / across_mps2), 0.0)))
        * across_mps2
        - across_mps2
        for lateral in _laterals(ellipse.bends, station, speed)
    )
