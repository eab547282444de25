"""Ramps in curves where braking or accelerating and cornering share an ellipse, as rows.

A piece of a ramp and a stretch of path that overlap have an end of the one in the other: at the points of every
stretch, and at places of every piece, either the mover is not both on that piece and on that stretch, or the squares
of its shares add up to no more than 1. What passes it in between is tightened (`between.py`).
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

import casadi as ca

from choreo.motion.cubic import gained, travelled
from choreo.problem.records import CurvePoint, Ellipse, MoverProblem, Problem, Ramp
from choreo.solve.formulation import Expression, Formulation, Owner, Passing, twin
from choreo.solve.models import MoverModel, PieceModel
from choreo.solve.ramp_tables import table_expression
from choreo.words.records import dataclass

# Places of a piece at which it is looked at, as shares of its duration.
PLACES = (0.0, 0.5, 1.0)
# Pieces of a ramp, more or less: along a table over speed, and else.
PIECES = (8, 3)


def ellipse_looks(problem: Problem) -> int:
    """Give at how many places pieces of ramps are looked at in curves, more or less."""
    return sum(
        len(mover.ellipse.bends) * PIECES[0 if len(ramp.table) > 1 else 1]
        for mover in problem.movers
        if mover.ellipse is not None
        for ramp in mover.phases
        if isinstance(ramp, Ramp)
    )


def add_ellipse(
    formulation: Formulation,
    numeric: MoverProblem,
    mover: MoverProblem,
    model: MoverModel,
    margin_mps2: Expression,
) -> None:
    """Add the rows of a mover with an ellipse. margin_mps2: by how much its lateral limit is tightened."""
    if numeric.ellipse is None or mover.ellipse is None:
        return
    ellipse = twin(numeric.ellipse, mover.ellipse)
    ramps = [
        _Ramping(piece, phase.direction, ellipse, mover.lateral_mps2 - margin_mps2)
        for piece in model.pieces
        if isinstance(phase := numeric.phases[piece.phase], Ramp)
    ]
    label = f"{mover.name}: braking or accelerating in the curve"
    for index, point in enumerate(ellipse.bends):
        time = formulation.unknown(
            f"{mover.name}: bend {index + 1}",
            -ca.inf,
            ca.inf,
            0,
            "time",
            Owner(mover.name),
            Passing(mover.name, "station", point.station_m),
        )
        what = f"{mover.name}: bend {index + 1} passed"
        formulation.equal(what, model.virtual_station(time), point.station_m, "m", None)
        for ramp in ramps:
            row = ca.fmax(ramp.off_m(point.station_m), ramp.left(time, point.curvature_per_m))
            formulation.at_least(label, row, 0, "1", numeric.lateral_origin)
    for ramp in ramps:
        for row in _places(ramp, ellipse):
            formulation.at_least(label, row, 0, "1", numeric.lateral_origin)


def _places(ramp: _Ramping, ellipse: Ellipse) -> Iterator[Expression]:
    """At places of a piece: off each stretch (m), or what is left of the ellipse there."""
    for _, group in groupby(ellipse.bends, key=_stretch):
        first, *_, last = group
        for share in PLACES:
            into = share * ramp.piece.duration_s
            station = ramp.station_m(into)
            off = ca.fmax(first.station_m - station, station - last.station_m)
            along = (station - first.station_m) / (last.station_m - first.station_m)
            rise = last.curvature_per_m - first.curvature_per_m
            bend = first.curvature_per_m + ca.fmin(ca.fmax(along, 0), 1) * rise
            yield ca.fmax(off, ramp.left(ramp.piece.start_s + into, bend))


def _stretch(point: CurvePoint) -> int:
    return point.stretch


@dataclass(frozen=True, slots=True)
class _Ramping:
    """A piece of a ramp. direction: of its change of speed; across_mps2: the lateral limit."""

    piece: PieceModel
    direction: int
    ellipse: Ellipse
    across_mps2: Expression

    def station_m(self, into_s: Expression) -> Expression:
        """Give the station so long into the piece."""
        piece = self.piece
        way = travelled(into_s, piece.speed_mps, piece.accel_mps2, piece.jerk_mps3)
        return piece.station_m + way

    def off_m(self, station_m: Expression) -> Expression:
        """Give how far before its start or behind its end a station lies, below 0 between them."""
        end = self.station_m(self.piece.duration_s)
        return ca.fmax(self.piece.station_m - station_m, station_m - end)

    def left(self, time_s: Expression, bend_per_m: Expression) -> Expression:
        """Give what is left of the ellipse at a time, at its nearer end where that is none of the piece's."""
        piece = self.piece
        into = ca.fmin(ca.fmax(time_s - piece.start_s, 0), piece.duration_s)
        speed = piece.speed_mps + gained(into, piece.accel_mps2, piece.jerk_mps3)
        accel = piece.accel_mps2 + piece.jerk_mps3 * into
        most = self.ellipse.brake_mps2
        if self.direction > 0:
            most = table_expression(self.ellipse.accelerate, speed)
        return 1 - (accel / most) ** 2 - (speed**2 * bend_per_m / self.across_mps2) ** 2
