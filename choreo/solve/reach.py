"""How far given quantities must move until a problem works, or may move until it breaks.

The problem's numbers become p0 + G delta with the deltas as further unknowns, and the deltas are minimised
(repairs) or maximised (margins) inside the same rows.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

import casadi as ca
import numpy as np

from choreo.problem.numbers import numbers_of
from choreo.problem.records import Problem
from choreo.solve.ipopt import OPTIONS, SUCCESSES
from choreo.solve.running import Vector, run
from choreo.solve.solver import Solver
from choreo.solve.tolerances import ROW_TOLERANCE
from choreo.words.records import dataclass

# A small multiple of the objective makes the motion unique where several go with the same deltas; 100 m of runway move
# a delta by less than a ten-thousandth of what it costs.
OBJECTIVE_SHARE = 1e-6
# A row that is missed by more than this (m, s, ...) is broken: ten times what a solution may miss.
MISSED = 10 * ROW_TOLERANCE


@dataclass(frozen=True, slots=True)
class Reached:
    """The deltas found (in the numbers' own units) and the motion that goes with them."""

    deltas: Vector
    x: Vector


class Reach:
    """One problem with some of its numbers set free along given directions."""

    def __init__(self, solver: Solver, problem: Problem, directions: Vector) -> None:
        """solver: of the problem's structure. directions: shape (numbers, deltas), d number / d delta."""
        self.assembly, self.ipopt, self.guess = solver.assembly, solver.ipopt, solver.guess
        margins = 2 * len(problem.movers)
        self.p0 = np.concatenate([numbers_of(problem), np.zeros(margins)])
        self.directions = np.vstack([directions, np.zeros((margins, directions.shape[1]))])
        self.count = directions.shape[1]
        self._build()

    def _build(self) -> None:
        formulation = self.assembly.formulation
        deltas = ca.SX.sym("delta", self.count)
        cost = ca.SX.sym("cost", self.count)
        moved = ca.DM(self.p0) + ca.mtimes(ca.DM(self.directions), deltas)
        g = ca.vertcat(*[row.expression for row in formulation.rows])
        bounds = [
            ca.vertcat(*[ca.SX(getattr(u, end)) for u in formulation.unknowns])
            for end in ("lo", "hi")
        ]
        everything = ca.Function(
            "all", [self.ipopt.x, self.ipopt.p], [self.assembly.objective, g, *bounds]
        )
        f, rows, low, high = everything(self.ipopt.x, moved)
        lo0, hi0 = self.ipopt.bounds_at(self.p0)
        # Bounds that move with a delta become rows; the others stay bounds.
        shifts = np.array(
            [ca.which_depends(low, deltas, 1, True), ca.which_depends(high, deltas, 1, True)]
        )
        self.lo, self.hi = lo0.copy(), hi0.copy()
        extra: list[Any] = []
        for index in range(len(lo0)):
            if shifts[0][index]:
                extra.append(self.ipopt.x[index] - low[index])
                self.lo[index] = -math.inf
            if shifts[1][index]:
                extra.append(high[index] - self.ipopt.x[index])
                self.hi[index] = math.inf
        whole = ca.vertcat(rows, *extra)
        self.row_lo = np.concatenate([self.ipopt.row_lo, np.zeros(len(extra))])
        self.row_hi = np.concatenate([self.ipopt.row_hi, np.full(len(extra), math.inf)])
        x = ca.vertcat(self.ipopt.x, deltas)
        nlp: dict[str, Any] = {
            "x": x,
            "p": cost,
            "f": ca.dot(cost, deltas) + OBJECTIVE_SHARE * f,
            "g": whole,
        }
        self.solver = ca.nlpsol("reach", "ipopt", nlp, OPTIONS)
        self.rows = ca.Function("rows", [x], [whole])

    def least(
        self,
        cost: Vector,
        low: Vector,
        high: Vector,
        starts: Iterable[Vector],
    ) -> Reached | None:
        """Minimise cost . delta with low <= delta <= high.

        starts: deltas to start from, tried in turn until one run succeeds. Returns None when none does.
        """
        bounds = {
            "lbx": np.concatenate([self.lo, low]),
            "ubx": np.concatenate([self.hi, high]),
            "lbg": self.row_lo,
            "ubg": self.row_hi,
        }
        for start in starts:
            numbers = self.p0 + self.directions @ np.asarray(start, dtype=float)
            first = self.guess.coupled(numbers)
            ran = run(
                self.solver,
                x0=np.concatenate([first, start]),
                p=np.asarray(cost, dtype=float),
                **bounds,
            )
            found = ran.x
            if ran.status not in SUCCESSES or self._missed(found):
                continue
            split = len(found) - self.count
            return Reached(found[split:], found[:split])
        return None

    def _missed(self, x: Vector) -> bool:
        g = np.asarray(self.rows(x)).ravel()
        missed = np.maximum(self.row_lo - g, g - self.row_hi)
        return not bool(np.all(np.isfinite(g))) or float(missed.max(initial=0.0)) > MISSED
