"""Linear problems by HiGHS, which casadi's wheel carries.

Source: Huangfu and Hall, Parallelizing the dual revised simplex method, Math. Prog. Comp. 10 (2018); from memory.
"""

from __future__ import annotations

from typing import Any

import casadi as ca
import numpy as np

from choreo.problem.linear import LinearProblem, Vector

# Proofs count a misfit of 1e-6 m or s as rounding: HiGHS is asked for a thousandth of that.
OPTIONS: dict[str, Any] = {
    "error_on_fail": False,
    "highs": {
        "output_flag": False,
        "primal_feasibility_tolerance": 1e-9,
        "dual_feasibility_tolerance": 1e-9,
    },
}


def solve_linear(problem: LinearProblem) -> Vector | None:
    """Give a least-cost x, or None when there is none (or HiGHS gives up)."""
    matrix = ca.sparsify(ca.DM(problem.matrix))
    width = problem.matrix.shape[1]
    solver = ca.conic(
        "linear", "highs", {"h": ca.Sparsity(width, width), "a": matrix.sparsity()}, OPTIONS
    )
    result = solver(
        g=problem.cost,
        a=matrix,
        lba=problem.row_lo,
        uba=problem.row_hi,
        lbx=problem.lo,
        ubx=problem.hi,
    )
    if not solver.stats().get("success", False):
        return None
    return np.asarray(result["x"]).ravel()
