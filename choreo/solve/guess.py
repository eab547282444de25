"""A starting point: closed-form guesses in a few passes, then times found on the guessed motion."""

from __future__ import annotations

from typing import Any

import casadi as ca
import numpy as np

from choreo.motion.cubic import gained, travelled
from choreo.problem.records import ContactPoint, Problem
from choreo.solve.assemble import Assembly
from choreo.solve.ipopt import Ipopt, Vector
from choreo.solve.tolerances import ROW_TOLERANCE
from choreo.solve.unknowns import Unknown

PASSES = 3
STEPS = 4
# What a starting point may move to satisfy the couplings; ramps keep their closed-form shape.
OUTER = (": duration", ": start station", ": launch", ": time", "last encounter")


class Guess:
    """First guesses for one structure; numbers come in when asked."""

    def __init__(self, assembly: Assembly, ipopt: Ipopt) -> None:
        """ipopt: the same assembly's solver, asked for bounds, rows and their derivatives."""
        self.unknowns = assembly.programme.unknowns
        self.x = ca.vertcat(*[unknown.symbol for unknown in self.unknowns])
        p: Any = assembly.parameters
        better = _informed(assembly)
        guesses: list[Any] = [better.get(one.name, one.guess) for one in self.unknowns]
        self.first = ca.Function("guess", [self.x, p], [ca.vertcat(*guesses)])
        self.ipopt = ipopt
        self.located = [i for i, unknown in enumerate(self.unknowns) if unknown.locate]
        self.motion = _motion_function(assembly, p, self.x)
        self.mover_names = list(assembly.movers)
        targets = [self.unknowns[i].locate for i in self.located]
        self.targets = ca.Function(
            "targets",
            [self.x, p],
            [ca.vertcat(*[t[2] for t in targets if t]) if targets else ca.SX(0, 1)],
        )

    def coupled(self, p: Vector) -> Vector:
        """Give a starting point whose starts, launches and holds satisfy the couplings as far as they can.

        With the ramps held, rows are nearly linear in these: a few least-squares steps on the broken ones.
        """
        lo, hi = self.ipopt.bounds_at(p)
        x = self.at(p, 1.0)
        outer = np.array([_is_outer(one) for one in self.unknowns]) & (hi > lo)
        for _ in range(STEPS):
            g, jacobian = self.ipopt.rows_and_jacobian(x, p)
            missed = np.clip(g, self.ipopt.row_lo, self.ipopt.row_hi) - g
            broken = np.abs(missed) > ROW_TOLERANCE
            if not broken.any():
                break
            step, *_ = np.linalg.lstsq(jacobian[np.ix_(broken, outer)], missed[broken], rcond=None)
            x[outer] += step
            x = self._locate(np.clip(x, lo, hi), p, lo, hi)
        return x

    def at(self, p: Vector, patience: float) -> Vector:
        """Give a starting point; patience scales how long open holds are guessed to last."""
        lo, hi = self.ipopt.bounds_at(p)
        x = np.clip(np.zeros(len(self.unknowns)), lo, hi)
        for _ in range(PASSES):
            x = np.clip(np.nan_to_num(np.asarray(self.first(x, p)).ravel()), lo, hi)
        for index, unknown in enumerate(self.unknowns):
            if unknown.name.endswith(": duration") and hi[index] > lo[index]:
                x[index] *= patience
        return self._locate(x, p, lo, hi)

    def _locate(self, x: Vector, p: Vector, lo: Vector, hi: Vector) -> Vector:
        """Set unknown times to when the guessed motion gets to what they stand for."""
        if not self.located:
            return x
        samples = self.motion(x, p)
        targets = np.asarray(self.targets(x, p)).ravel()
        for index, target in zip(self.located, targets, strict=True):
            locate = self.unknowns[index].locate
            if locate is None:
                continue
            times, stations, speeds = _sampled(samples, self.mover_names.index(locate[0]))
            x[index] = _when(times, speeds if locate[1] == "speed" else stations, float(target))
        return np.clip(x, lo, hi)


def _is_outer(unknown: Unknown) -> bool:
    return unknown.locate is not None or any(word in unknown.name for word in OUTER)


def _informed(assembly: Assembly) -> dict[str, Any]:
    """Better guesses that need the encounters: open holds and open starts reach their station."""
    problem: Problem = assembly.events.problem
    numeric: Problem = assembly.events.numeric
    better: dict[str, Any] = {}
    for shape, encounter in zip(numeric.encounters, problem.encounters, strict=True):
        if not isinstance(shape, ContactPoint) or not isinstance(encounter, ContactPoint):
            continue
        for name, station in ((shape.a, encounter.station_a_m), (shape.b, encounter.station_b_m)):
            model = assembly.movers[name]
            mover = numeric.mover(name)
            index = mover.hold_until(encounter.name)
            if index is None:
                continue
            phase, hold = model.phases[index], mover.hold(index)
            if not mover.start.fixed:
                better[f"{name}: start station"] = station - (phase.end_m - model.start_m)
            else:
                left = (station - phase.start_m) / ca.fmax(phase.start_mps, 0.1)
                better[f"{name} {hold.name}: duration"] = ca.fmax(left, hold.settle_s)
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
    """Times, stations, speeds along the guessed motion, run on at 1 m/s beyond both ends."""
    matrix = samples[index] if isinstance(samples, (tuple, list)) else samples
    times, stations, speeds = [], [], []
    for start, duration, station, speed, accel, jerk in np.asarray(matrix).T:
        u = np.linspace(0.0, max(duration, 0.0), 20)
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
