"""Limits that the rows only hold at points, looked at densely along the solved motion."""

from __future__ import annotations

from itertools import groupby

import numpy as np

from choreo.motion.cubic import gained, travelled
from choreo.problem.records import MoverProblem, Problem, Ramp
from choreo.solve.reading import MoverReading, PieceReading, Reading
from choreo.solve.running import Vector

# Looks at a piece: a maximum between two of them is missed by less than 0.03 % of what the value varies by on it.
SAMPLES = 60


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
    if not mover.curve or not motion.pieces:
        return 0.0
    station, speed, _ = (
        np.concatenate(part) for part in zip(*map(_dense, motion.pieces), strict=True)
    )
    worst = 0.0
    for _, group in groupby(mover.curve, key=lambda point: point.stretch):
        points = list(group)
        stations = np.array([point.station_m for point in points])
        curvatures = np.array([point.curvature_per_m for point in points])
        inside = (station >= stations[0]) & (station <= stations[-1])
        curvature = np.interp(station[inside], stations, curvatures)
        lateral = speed[inside] ** 2 * curvature
        worst = max(worst, float(np.max(lateral, initial=0.0)) - mover.lateral_mps2)
    return worst
