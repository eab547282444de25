"""A starting point: closed-form guesses in a few passes, then times found on the guessed motion."""

from __future__ import annotations

from collections.abc import Set
from typing import Any

import casadi as ca
import numpy as np

from choreo.motion.cubic import gained, travelled
from choreo.problem.records import ContactPoint
from choreo.solve.assemble import Assembly
from choreo.solve.formulation import Owner, Passing, Role, twin
from choreo.solve.ipopt import Ipopt
from choreo.solve.running import Vector
from choreo.solve.tolerances import ROW_TOLERANCE

# How often all guesses are evaluated: a start depends on holds, these on the shapes of ramps before them.
PASSES = 3
# Least-squares steps towards the couplings: with the ramps held, the rows are nearly linear, so that few are enough.
STEPS = 4
# What a starting point may move to satisfy the couplings; ramps keep their closed-form shape.
OUTER: Set[Role] = {"start", "launch", "duration", "time"}
# A hold at less speed (m/s) than this is guessed to last as long as at this: a crawl.
LEAST_SPEED_MPS = 0.1
# Looks at a piece of motion, between which stations and speeds are taken to be linear: a guess needs no more.
LOOKS = 20


class Guess:
    """First guesses for one structure; numbers come in when asked."""

    def __init__(self, assembly: Assembly, ipopt: Ipopt) -> None:
        """ipopt: the same assembly's solver, asked for bounds, rows and their derivatives."""
        unknowns = assembly.formulation.unknowns
        x = ca.vertcat(*[unknown.symbol for unknown in unknowns])
        p: Any = assembly.parameters
        better = _informed(assembly)
        guesses: list[Any] = [better.get((one.role, one.owner), one.guess) for one in unknowns]
        self.count = len(unknowns)
        self.first = ca.Function("guess", [x, p], [ca.vertcat(*guesses)])
        self.ipopt = ipopt
        self.outer = np.array([one.role in OUTER for one in unknowns], dtype=bool)
        self.durations = np.array([one.role == "duration" for one in unknowns], dtype=bool)
        self.passings: list[tuple[int, Passing]] = [
            (index, one.passing) for index, one in enumerate(unknowns) if one.passing is not None
        ]
        values = [passing.value for _, passing in self.passings]
        self.targets = ca.Function(
            "targets", [x, p], [ca.vertcat(*values) if values else ca.SX(0, 1)]
        )
        self.motion = _motion_function(assembly, p, x)
        self.mover_names = list(assembly.movers)

    def coupled(self, p: Vector) -> Vector:
        """Give a starting point whose starts, launches and holds satisfy the couplings as far as they can.

        With the ramps held, rows are nearly linear in these: a few least-squares steps on the broken ones.
        """
        lo, hi = self.ipopt.bounds_at(p)
        x = self.at(p, 1.0)
        outer = self.outer & (hi > lo)
        for _ in range(STEPS):
            g, jacobian = self.ipopt.rows_and_jacobian(x, p)
            missed = np.clip(g, self.ipopt.row_lo, self.ipopt.row_hi) - g
            broken = np.abs(missed) > ROW_TOLERANCE
            if not broken.any():
                break
            step, *_ = np.linalg.lstsq(jacobian[np.ix_(broken, outer)], missed[broken], rcond=None)
            x[outer] += step
            x = self._located(np.clip(x, lo, hi), p, lo, hi)
        return x

    def at(self, p: Vector, patience: float) -> Vector:
        """Give a starting point; patience scales how long open holds are guessed to last."""
        lo, hi = self.ipopt.bounds_at(p)
        x = np.clip(np.zeros(self.count), lo, hi)
        for _ in range(PASSES):
            x = np.clip(np.nan_to_num(np.asarray(self.first(x, p)).ravel()), lo, hi)
        x[self.durations & (hi > lo)] *= patience
        return self._located(x, p, lo, hi)

    def _located(self, x: Vector, p: Vector, lo: Vector, hi: Vector) -> Vector:
        """Set unknown times to when the guessed motion gets to what they stand for."""
        if not self.passings:
            return x
        samples = self.motion(x, p)
        targets = np.asarray(self.targets(x, p)).ravel()
        for (index, passing), target in zip(self.passings, targets, strict=True):
            times, stations, speeds = _sampled(samples, self.mover_names.index(passing.mover))
            values = speeds if passing.quantity == "speed" else stations
            x[index] = _when(times, values, float(target))
        return np.clip(x, lo, hi)


def _informed(assembly: Assembly) -> dict[tuple[Role, Owner | None], Any]:
    """Better guesses that need the encounters: open holds and open starts reach their station."""
    numeric, problem = assembly.events.numeric, assembly.events.problem
    better: dict[tuple[Role, Owner | None], Any] = {}
    for shape, encounter in zip(numeric.encounters, problem.encounters, strict=True):
        if not isinstance(shape, ContactPoint):
            continue
        contact = twin(shape, encounter)
        for name, station in ((shape.a, contact.station_a_m), (shape.b, contact.station_b_m)):
            model = assembly.movers[name]
            mover = numeric.mover(name)
            index = mover.hold_until(shape.name)
            if index is None:
                continue
            phase = model.phases[index]
            if mover.start.fixed:
                left = (station - phase.start_m) / ca.fmax(phase.start_mps, LEAST_SPEED_MPS)
                settle_s = problem.mover(name).hold(index).settle_s
                better["duration", Owner(name, index)] = ca.fmax(left, settle_s)
            else:
                better["start", Owner(name)] = station - (phase.end_m - model.start_m)
    return better


def _motion_function(assembly: Assembly, p: Any, x: Any) -> Any:
    """Piece values of every mover, one matrix each: rows start, duration, station, speed, accel, jerk."""
    outputs = []
    for model in assembly.movers.values():
        columns = [
            ca.vertcat(q.start_s, q.duration_s, q.station_m, q.speed_mps, q.accel_mps2, q.jerk_mps3)
            for q in model.pieces
        ]
        outputs.append(ca.horzcat(*columns) if columns else ca.SX(6, 0))
    return ca.Function("motion", [x, p], outputs)


def _sampled(samples: Any, index: int) -> tuple[Vector, Vector, Vector]:
    """Times, stations, speeds along the guessed motion of one mover, each of shape (n,)."""
    matrix = samples[index] if isinstance(samples, (tuple, list)) else samples
    times, stations, speeds = [], [], []
    for start, duration, station, speed, accel, jerk in np.asarray(matrix).T:
        u = np.linspace(0.0, max(duration, 0.0), LOOKS)
        times.append(start + u)
        stations.append(station + travelled(u, speed, accel, jerk))
        speeds.append(speed + gained(u, accel, jerk))
    if not times:
        return np.array([0.0]), np.array([0.0]), np.array([0.0])
    return np.concatenate(times), np.concatenate(stations), np.concatenate(speeds)


def _when(times: Vector, values: Vector, target: float) -> float:
    """The first time at which a value is reached; beyond the ends, one second per unit."""
    if target <= values[0]:
        return float(times[0] + (target - values[0]))
    reached = np.nonzero(values >= target)[0]
    if len(reached) == 0:
        return float(times[-1] + (target - values[-1]))
    i = int(reached[0])
    span = values[i] - values[i - 1]
    share = (target - values[i - 1]) / span if span > 0 else 0.0
    return float(times[i - 1] + share * (times[i] - times[i - 1]))
