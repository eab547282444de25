"""Linear problems by HiGHS, the same on every run: one thread, a fixed seed, nothing kept from problem to problem.

Source: Huangfu and Hall, Parallelizing the dual revised simplex method, Math. Prog. Comp. 10 (2018); from memory.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from threading import local

import highspy
import numpy as np

from choreo.problem.linear import LinearProblem, Vector
from choreo.words.records import dataclass

# Proofs count a misfit of 1e-6 m or s as rounding: HiGHS is asked for a thousandth of that.
OPTIONS = {
    "threads": 1,
    "random_seed": 0,
    "primal_feasibility_tolerance": 1e-9,
    "dual_feasibility_tolerance": 1e-9,
}


class _Silent(highspy.Highs):
    def __init__(self) -> None:
        super().__init__()

    def enableCallbacks(self) -> None:  # noqa: N802
        """Print nothing, from the first moment on: once it listens to callbacks HiGHS says who it is."""
        self.silent()


class _Ready(local):
    """A solver a thread, since making one takes as long as a problem; each new model begins without a basis."""

    def __init__(self) -> None:
        self.solver, self.prover = _Silent(), _Silent()
        for name, value in OPTIONS.items():
            self.solver.setOptionValue(name, value)
            # What its multipliers are worth is worked out here: it need not be exact, and finishes more often.
            if "tolerance" not in name:
                self.prover.setOptionValue(name, value)


_READY = _Ready()


def solve_linear(problem: LinearProblem) -> Vector | None:
    """Give a least-cost x, or None when there is none (or HiGHS gives up)."""
    solver = _READY.solver
    solver.clearSolver()
    solver.passModel(_model(problem))
    solver.run()
    if solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        return None
    return np.array(solver.getSolution().col_value)


def proven_least(problem: LinearProblem, costs: Sequence[Vector]) -> list[float]:
    """For each cost give what no x of a problem, whose unknowns are all bounded, costs less than; inf: there is no x.

    HiGHS is not believed: whatever its multipliers are, by weak duality they prove what is given here. One problem
    begins where the last one ended.
    """
    solver = _READY.prover
    solver.clearSolver()
    solver.passModel(_model(problem))
    every = np.arange(len(problem.lo), dtype=np.int32)
    found: list[float] = []
    for cost in costs:
        solver.changeColsCost(len(every), every, cost)
        solver.run()
        if solver.getModelStatus() == highspy.HighsModelStatus.kInfeasible:
            return [math.inf] * len(costs)
        found.append(_weak_dual(problem, cost, np.array(solver.getSolution().row_dual)))
    return found


def _weak_dual(problem: LinearProblem, cost: Vector, multipliers: Vector) -> float:
    """What a cost can't fall short of, by any multipliers of the rows: those of open ends are taken as nothing."""
    ends = np.where(multipliers > 0.0, problem.row_lo, problem.row_hi)
    multipliers = np.where(np.isfinite(ends), multipliers, 0.0)
    rest = cost - multipliers @ problem.matrix
    rows = multipliers @ np.where(np.isfinite(ends), ends, 0.0)
    return float(rows + rest @ np.where(rest > 0.0, problem.lo, problem.hi))


@dataclass(frozen=True, slots=True)
class Whole:
    """A plan in whole numbers, or None where none was found; at_least: no plan costs less (-inf: not known)."""

    x: Vector | None
    at_least: float


def solve_whole(problem: LinearProblem, most_nodes: int) -> Whole:
    """Solve a linear problem whose unknowns are all whole numbers, by branch and bound up to so many nodes."""
    solver = _Silent()
    for name, value in {**OPTIONS, "mip_max_nodes": most_nodes, "mip_rel_gap": 0.0}.items():
        solver.setOptionValue(name, value)
    model = _model(problem)
    model.integrality_ = [highspy.HighsVarType.kInteger] * len(problem.cost)
    solver.passModel(model)
    solver.run()
    info = solver.getInfo()
    found = info.primal_solution_status == 2  # a feasible one
    x = np.round(np.array(solver.getSolution().col_value)) if found else None
    return Whole(x, float(info.mip_dual_bound))


def _model(problem: LinearProblem) -> highspy.HighsLp:
    height, width = problem.matrix.shape
    rows, columns = np.nonzero(problem.matrix)
    model = highspy.HighsLp()
    model.num_row_, model.num_col_ = height, width
    model.row_lower_, model.row_upper_ = problem.row_lo, problem.row_hi
    model.col_lower_, model.col_upper_ = problem.lo, problem.hi
    model.col_cost_ = problem.cost
    matrix = model.a_matrix_
    matrix.format_ = highspy.MatrixFormat.kRowwise
    matrix.start_ = np.searchsorted(rows, np.arange(height + 1))
    matrix.index_, matrix.value_ = columns, problem.matrix[rows, columns]
    return model
