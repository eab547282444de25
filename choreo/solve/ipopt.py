"""The one file that knows IPOPT: builds it for a structure, runs it, reads its status.

An interior point method. Source, from memory: Waechter and Biegler, On the implementation of an interior-point filter
line-search algorithm for large-scale nonlinear programming, Mathematical Programming 106 (2006) 25-57.
"""

from __future__ import annotations

import math
from functools import cached_property
from typing import Any

import casadi as ca
import numpy as np

from choreo.solve.assemble import Assembly
from choreo.solve.running import Multipliers, Vector, run
from choreo.solve.tolerances import ROW_TOLERANCE, SOLVER_TOLERANCE
from choreo.words.records import dataclass

OPTIONS: dict[str, Any] = {
    "print_time": False,
    "error_on_fail": False,
    # Nobody asks how the objective changes with the numbers: that would be one more derivative to write.
    "calc_lam_p": False,
    "no_nlp_grad": True,
    "ipopt": {
        "print_level": 0,
        "sb": "yes",
        "tol": SOLVER_TOLERANCE,
        "constr_viol_tol": SOLVER_TOLERANCE,
        # Good enough when it can't be bettered over 15 iterations (IPOPT's default count).
        "acceptable_tol": SOLVER_TOLERANCE * 100,
        # A run that finds a solution takes under 100; the others had better try another start.
        "max_iter": 400,
        # ... and no single run takes all the patience that there is (s of computing).
        "max_cpu_time": 15.0,
        # Starting points are close: a small barrier from the start saves a quarter of the iterations.
        "mu_init": 1e-3,
        # IPOPT widens bounds by default; ours are promises.
        "bound_relax_factor": 0.0,
        "honor_original_bounds": "yes",
        "fixed_variable_treatment": "make_parameter",
    },
}

# Beside a solution whose multipliers are known: begin there, and only see that nothing has changed sides.
PUSH = 1e-9
BESIDE: dict[str, Any] = {
    "warm_start_init_point": "yes",
    "mu_init": 1e-7,
    "mu_strategy": "adaptive",
    "warm_start_bound_push": PUSH,
    "warm_start_bound_frac": PUSH,
    "warm_start_slack_bound_push": PUSH,
    "warm_start_slack_bound_frac": PUSH,
    "warm_start_mult_bound_push": PUSH,
}
# Of a solver's functions those that another one of the same problem can take over, by the name of casadi's option.
DERIVATIVES = {"grad_f": "nlp_grad_f", "jac_g": "nlp_jac_g", "hess_lag": "nlp_hess_l"}

# What IPOPT says of a run that has found an optimum.
SUCCESSES = ("Solve_Succeeded", "Solved_To_Acceptable_Level")


@dataclass(frozen=True)
class Outcome:
    """Where a run of the solver ended: unknowns, objective, worst row, whether it is a solution.

    multipliers: of the unknowns' bounds and of the rows.
    """

    x: Vector
    objective: float
    violation: float
    status: str
    iterations: int
    multipliers: Multipliers

    @property
    def solved(self) -> bool:
        """True when IPOPT says optimal and every row holds when looked at again."""
        return self.status in SUCCESSES and self.violation <= ROW_TOLERANCE


class Ipopt:
    """A solver for one structure; numbers come in at solve time."""

    def __init__(self, assembly: Assembly) -> None:
        formulation = assembly.formulation
        self.x = ca.vertcat(*[unknown.symbol for unknown in formulation.unknowns])
        self.p = assembly.parameters
        g = (
            ca.vertcat(*[row.expression for row in formulation.rows])
            if formulation.rows
            else ca.SX(0, 1)
        )
        self.row_lo = np.array([row.lo for row in formulation.rows])
        self.row_hi = np.array([row.hi for row in formulation.rows])
        self.problem = {"x": self.x, "p": self.p, "f": assembly.objective, "g": g}
        self.solver = ca.nlpsol("choreo", "ipopt", self.problem, OPTIONS)
        self.rows = ca.Function("rows", [self.x, self.p], [g])
        # IPOPT's own function, so that asking for the rows' derivatives costs no second build.
        self.slopes = self.solver.get_function("nlp_jac_g")
        self.bounds = ca.Function(
            "bounds",
            [self.p],
            [
                ca.vertcat(*[unknown.lo for unknown in formulation.unknowns]),
                ca.vertcat(*[unknown.hi for unknown in formulation.unknowns]),
            ],
        )

    def bounds_at(self, p: Vector) -> tuple[Vector, Vector]:
        """Give the unknowns' bounds for a set of numbers."""
        lo, hi = self.bounds(p)
        return np.asarray(lo).ravel(), np.asarray(hi).ravel()

    @cached_property
    def beside(self) -> Any:
        """The same problem for starts beside a solution; it takes over the other solver's derivatives."""
        known = {option: self.solver.get_function(name) for option, name in DERIVATIVES.items()}
        ipopt = OPTIONS["ipopt"] | BESIDE
        return ca.nlpsol("choreo", "ipopt", self.problem, {**OPTIONS, "ipopt": ipopt, **known})

    def solve(self, p: Vector, x0: Vector, multipliers: Multipliers | None = None) -> Outcome:
        """Run from a starting point, which is beside a solution if its multipliers are given.

        Never raises for a failed run: read `solved`.
        """
        lo, hi = self.bounds_at(p)
        given = {"p": p, "lbx": lo, "ubx": hi, "lbg": self.row_lo, "ubg": self.row_hi}
        given["x0"] = np.clip(np.nan_to_num(x0, nan=0.0), lo, hi)
        if multipliers is None:
            ran = run(self.solver, **given)
        else:
            ran = run(self.beside, **given, lam_x0=multipliers[0], lam_g0=multipliers[1])
        return Outcome(
            x=ran.x,
            objective=ran.objective,
            violation=self.violation(ran.x, p),
            status=ran.status,
            iterations=ran.iterations,
            multipliers=ran.multipliers,
        )

    def rows_and_jacobian(self, x: Vector, p: Vector) -> tuple[Vector, Vector]:
        """Give the rows' values, shape (rows,), and their derivatives, shape (rows, unknowns)."""
        g, jacobian = self.slopes(x, p)
        return np.asarray(g).ravel(), np.asarray(ca.densify(jacobian))

    def residuals(self, x: Vector, p: Vector) -> Vector:
        """Give by how much each row is missed, shape (rows,); 0 where it holds."""
        g = np.asarray(self.rows(x, p)).ravel()
        missed: Vector = np.maximum(np.maximum(self.row_lo - g, g - self.row_hi), 0.0)
        return missed

    def violation(self, x: Vector, p: Vector) -> float:
        """Give the largest miss of any row; infinite when a value is not a number."""
        residuals = self.residuals(x, p)
        if not np.all(np.isfinite(x)) or not np.all(np.isfinite(residuals)):
            return math.inf
        return float(residuals.max(initial=0.0))
