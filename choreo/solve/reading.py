"""Plain numbers read off a solution: pieces, phases, launches, triggers, encounters, instants."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from operator import attrgetter
from typing import Any

import casadi as ca
import numpy as np

from choreo.motion.cubic import gained, travelled
from choreo.solve.assemble import Assembly
from choreo.solve.events import Moment
from choreo.solve.running import Vector
from choreo.words.records import dataclass

# Halvings of a piece's duration: below the rounding of any time.
BISECTIONS = 60


@dataclass(frozen=True, slots=True)
class PieceReading:
    """Constant jerk from start_s over duration_s; phase is the index in the mover's phases."""

    phase: int
    start_s: float
    duration_s: float
    station_m: float
    speed_mps: float
    accel_mps2: float
    jerk_mps3: float

    def at(self, u_s: float) -> tuple[float, float, float]:
        """Station, speed, acceleration u_s seconds into the piece."""
        accel, jerk = self.accel_mps2, self.jerk_mps3
        station = self.station_m + travelled(u_s, self.speed_mps, accel, jerk)
        return station, self.speed_mps + gained(u_s, accel, jerk), accel + u_s * jerk


@dataclass(frozen=True, slots=True)
class PhaseReading:
    """Times, stations and speeds at both ends of a phase."""

    start_s: float
    start_m: float
    start_mps: float
    end_s: float
    end_m: float
    end_mps: float


@dataclass(frozen=True, slots=True)
class MoverReading:
    """One mover's numbers."""

    name: str
    start_m: float
    launch_s: float
    pieces: tuple[PieceReading, ...]
    phases: tuple[PhaseReading, ...]

    def at(self, time_s: float) -> tuple[float, float]:
        """Station and speed at a time; before the launch it stands, or rolls as it starts; at the end it rests."""
        speed = self.pieces[0].speed_mps if self.pieces else 0.0
        station = self.start_m + min(time_s - self.launch_s, 0.0) * speed
        index = bisect_right(self.pieces, time_s, key=attrgetter("start_s")) - 1
        if index >= 0:
            piece = self.pieces[index]
            station, speed, _ = piece.at(min(time_s - piece.start_s, piece.duration_s))
        return station, speed

    def stations_m(self, times_s: Sequence[float]) -> Vector:
        """Give the stations at times, as `at` does, shape (n,)."""
        times = np.array(times_s)
        speed = self.pieces[0].speed_mps if self.pieces else 0.0
        before = self.start_m + np.minimum(times - self.launch_s, 0.0) * speed
        if not self.pieces:
            return np.asarray(before)
        read = attrgetter(
            "start_s", "duration_s", "station_m", "speed_mps", "accel_mps2", "jerk_mps3"
        )
        table = np.array([read(piece) for piece in self.pieces])
        index = table[:, 0].searchsorted(times, side="right") - 1
        start_s, lasts, station, speeds, accel, jerk = table[index].T
        way = travelled(np.minimum(times - start_s, lasts), speeds, accel, jerk)
        return np.where(index >= 0, station + way, before)

    def when(self, station_m: float) -> float | None:
        """The time at which a station is first reached, by bisection; None when it never is.

        One that it rolls past before its launch is reached then.
        """
        if self.pieces and self.pieces[0].speed_mps > 0 and station_m < self.start_m:
            return self.launch_s - (self.start_m - station_m) / self.pieces[0].speed_mps
        for piece in self.pieces:
            if piece.at(piece.duration_s)[0] >= station_m >= piece.station_m:
                low, high = 0.0, piece.duration_s
                for _ in range(BISECTIONS):
                    middle = (low + high) / 2
                    low, high = (middle, high) if piece.at(middle)[0] < station_m else (low, middle)
                return piece.start_s + high
        return None


@dataclass(frozen=True, slots=True)
class TriggerReading:
    """Crossing time and station of the watched mover, the setting in SI, and when it acts."""

    crossing_s: float
    station_m: float
    setting: float
    acts_s: float


@dataclass(frozen=True, slots=True)
class MomentReading:
    """An encounter's time and both stations."""

    time_s: float
    station_a_m: float
    station_b_m: float


@dataclass(frozen=True)
class Reading:
    """A whole solution in plain numbers."""

    movers: dict[str, MoverReading]
    triggers: dict[str, TriggerReading]
    moments: dict[str, MomentReading]
    instants: dict[str, float]


class Readings:
    """Compiles, once per structure, the function that turns unknowns into a Reading."""

    def __init__(self, assembly: Assembly) -> None:
        self.assembly = assembly
        self.instants = [one.name for one in assembly.events.numeric.instants]
        x = ca.vertcat(*[unknown.symbol for unknown in assembly.formulation.unknowns])
        self.function = ca.Function("read", [x, assembly.parameters], [self._everything()])

    def _everything(self) -> Any:
        events = self.assembly.events
        values: list[Any] = []
        for model in self.assembly.movers.values():
            values += [model.start_m, model.launch_s]
            for q in model.pieces:
                values += [
                    q.start_s,
                    q.duration_s,
                    q.station_m,
                    q.speed_mps,
                    q.accel_mps2,
                    q.jerk_mps3,
                ]
            for f in model.phases:
                values += [f.start_s, f.start_m, f.start_mps, f.end_s, f.end_m, f.end_mps]
        for trigger in events.triggers.values():
            values += [trigger.crossing_s, trigger.station_m, trigger.setting, trigger.acts_s]
        for moment in events.moments.values():
            values += _moment_values(moment)
        values += [events.times[name] for name in self.instants]
        return ca.vertcat(*values)

    def at(self, x: Vector, p: Vector) -> Reading:
        """Read every number at a set of unknowns and parameters."""
        stream = iter(np.asarray(self.function(x, p)).ravel().tolist())

        def take(count: int) -> list[float]:
            return [next(stream) for _ in range(count)]

        movers = {}
        for name, model in self.assembly.movers.items():
            start, launch = take(2)
            pieces = tuple(PieceReading(q.phase, *take(6)) for q in model.pieces)
            phases = tuple(PhaseReading(*take(6)) for _ in model.phases)
            movers[name] = MoverReading(name, start, launch, pieces, phases)
        events = self.assembly.events
        return Reading(
            movers=movers,
            triggers={name: TriggerReading(*take(4)) for name in events.triggers},
            moments={name: MomentReading(*take(3)) for name in events.moments},
            instants={name: take(1)[0] for name in self.instants},
        )


def _moment_values(moment: Moment) -> list[Any]:
    return [moment.time_s, moment.station_a_m, moment.station_b_m]
