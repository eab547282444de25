"""A mover's motion as expressions: pieces, phase ends, and where it is at any unknown time."""

from __future__ import annotations

import casadi as ca

from choreo.solve.blocks import with_part_of_piece
from choreo.solve.formulation import Expression
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class PieceModel:
    """Constant jerk over duration_s; values at its start."""

    phase: int
    start_s: Expression
    duration_s: Expression
    station_m: Expression
    speed_mps: Expression
    accel_mps2: Expression
    jerk_mps3: Expression


@dataclass(frozen=True, slots=True)
class PhaseModel:
    """Both ends of a phase."""

    start_s: Expression
    start_m: Expression
    start_mps: Expression
    end_s: Expression
    end_m: Expression
    end_mps: Expression
    use: Expression | None = None


@dataclass(frozen=True)
class MoverModel:
    """A mover's start, launch, pieces and phases; rolls: it has a speed before its launch."""

    name: str
    start_m: Expression
    launch_s: Expression
    pieces: tuple[PieceModel, ...]
    phases: tuple[PhaseModel, ...]
    end_s: Expression
    end_m: Expression
    rolls: bool = False

    def at(self, time_s: Expression) -> tuple[Expression, Expression]:
        """Give station and speed at any time: before the launch it stands, or rolls as it starts; at the end it rests.

        Every piece counts for the part of it that has passed, so the expression is as smooth as the motion.
        """
        speed: Expression = self.pieces[0].speed_mps if self.pieces else 0.0
        station: Expression = self.start_m
        if self.rolls:
            station = station + ca.fmin(time_s - self.launch_s, 0) * speed
        for piece in self.pieces:
            station, speed = with_part_of_piece(
                time_s,
                station,
                speed,
                piece.start_s,
                piece.duration_s,
                piece.speed_mps,
                piece.accel_mps2,
                piece.jerk_mps3,
            )
        return station, speed

    def virtual_station(self, time_s: Expression) -> Expression:
        """Give the station, run on at 1 m/s after the end and, from a standing start, before the launch.

        It makes "the time at which it passes a station" exist even for stations that it never reaches.
        """
        before = 0.0 if self.rolls else ca.fmin(time_s - self.launch_s, 0)
        after = ca.fmax(time_s - self.end_s, 0)
        return self.at(time_s)[0] + before + after
