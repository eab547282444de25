"""An optimum is an optimum because its certificate says so, not because the solver did.

First-order conditions recomputed with numpy from derivatives that the solver's own run did not keep:
primal feasibility, multipliers of the right sign, stationarity, complementarity.
"""

import casadi as ca
import numpy as np
import pytest

from choreo.problem.numbers import numbers_of
from choreo.solve import Solver
from tests.hand_made import walker_problem


@pytest.mark.parametrize("prefer", ["shortest runway", "gentlest ramps", "quickest run"])
def test_optimum_satisfies_the_first_order_conditions(prefer: str) -> None:
    problem = walker_problem(prefer=prefer)
    solver = Solver(problem)
    solution = solver.solve(problem)
    assert solution.solved
    p = np.concatenate([numbers_of(problem), np.zeros(solver.margin_count)])
    ipopt, formulation = solver.ipopt, solver.assembly.formulation
    g = ca.vertcat(*[row.expression for row in formulation.rows])
    f = solver.assembly.objective
    derivatives = ca.Function(
        "d", [ipopt.x, ipopt.p], [ca.gradient(f, ipopt.x), ca.jacobian(g, ipopt.x), g]
    )
    gradient, jacobian, values = (np.array(part) for part in derivatives(solution.x, p))
    lo, hi = ipopt.bounds_at(p)
    values = values.ravel()
    assert len(values) == len(ipopt.row_lo) > 10
    free = hi > lo
    # Active rows and bounds, each with the sign its multiplier must have.
    columns, signs = [], []
    near = 1e-6
    for index, (low, high) in enumerate(zip(ipopt.row_lo, ipopt.row_hi, strict=True)):
        assert values[index] >= low - 1e-8
        assert values[index] <= high + 1e-8
        if low == high:
            columns.append(jacobian[index])
            signs.append(0)
        elif values[index] - low < near:
            columns.append(jacobian[index])
            signs.append(1)
    for index, (low, high) in enumerate(zip(lo, hi, strict=True)):
        unit = np.zeros(len(lo))
        unit[index] = 1
        if solution.x[index] - low < near:
            columns.append(unit)
            signs.append(1)
        elif high - solution.x[index] < near:
            columns.append(unit)
            signs.append(-1)
    active = np.array(columns).T[free]
    multipliers, *_ = np.linalg.lstsq(active, gradient.ravel()[free], rcond=None)
    residual = gradient.ravel()[free] - active @ multipliers
    assert np.abs(residual).max() < 1e-5
    # Independent: there is only one set of multipliers.
    assert np.linalg.matrix_rank(active) == active.shape[1]
    assert (np.array(signs) * multipliers).min() >= -1e-6


def test_no_random_neighbour_that_keeps_the_rows_is_better() -> None:
    """Solved anew with the subject's launch pushed about, the runway never gets shorter."""
    problem = walker_problem()
    solver = Solver(problem)
    best = solver.solve(problem)
    start = best.reading.movers["subject"].start_m
    for settle in (2.0, 2.1, 2.5, 3.0):
        other = solver.solve(walker_problem(settle_s=settle), near=best)
        assert other.solved
        assert other.reading.movers["subject"].start_m <= start + 1e-6
