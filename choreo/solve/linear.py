"""Linear programmes by HiGHS, which casadi's wheel carries."""

from __future__ import annotations

from typing import Any, Protocol

import casadi as ca
import numpy as np
import numpy.typing as npt

Vector = npt.NDArray[np.float64]

OPTIONS: dict[str, Any] = {
    "error_on_fail": False,
    "highs": {
        "output_flag": False,
        "primal_feasibility_tolerance": 1e-9,
        "dual_feasibility_tolerance": 1e-9,
    },
}


class Programme(Protocol):
    """minimise cost . x with row_lo <= matrix x <= row_hi and lo <= x <= hi."""

    @property
    def matrix(self) -> Vector: ...
    @property
    def row_lo(self) -> Vector: ...
    @property
    def row_hi(self) -> Vector: ...
    @property
    def lo(self) -> Vector: ...
    @property
    def hi(self) -> Vector: ...
    @property
    def cost(self) -> Vector: ...


def solve_linear(programme: Programme) -> Vector | None:
    """Give a least-cost x, or None when there is none (or HiGHS gives up)."""
    matrix = ca.sparsify(ca.DM(programme.matrix))
    width = programme.matrix.shape[1]
    solver = ca.conic(
        "linear", "highs", {"h": ca.Sparsity(width, width), "a": matrix.sparsity()}, OPTIONS
    )
    result = solver(
        g=programme.cost,
        a=matrix,
        lba=programme.row_lo,
        uba=programme.row_hi,
        lbx=programme.lo,
        ubx=programme.hi,
    )
    if not solver.stats().get("success", False):
        return None
    return np.asarray(result["x"]).ravel()
