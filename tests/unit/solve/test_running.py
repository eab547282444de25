"""A run of a solver says nothing on the terminal, ends by Ctrl-C, and survives bounds that leave no room."""

from typing import Any

import casadi as ca
import numpy as np
import pytest

from choreo.problem.numbers import numbers_of
from choreo.solve import Solver
from choreo.solve.ipopt import OPTIONS
from choreo.solve.running import BOUNDS_CROSS, INTERRUPTED, run
from tests.hand_made import given, walker_problem

ONE = np.ones(1)


def overconstrained() -> Any:
    """One unknown, two equations for it: casadi says so on standard error."""
    x = ca.SX.sym("x")
    return ca.nlpsol("two", "ipopt", {"x": x, "f": x**2, "g": ca.vertcat(x - 1, x - 2)}, OPTIONS)


def test_what_casadi_says_stays_off_the_terminal(capfd: pytest.CaptureFixture[str]) -> None:
    two = overconstrained()
    bounds = {"x0": ONE, "lbx": -9 * ONE, "ubx": 9 * ONE, "lbg": np.zeros(2), "ubg": np.zeros(2)}
    two(**bounds)
    assert "overconstrained" in capfd.readouterr().err
    run(two, **bounds)
    assert capfd.readouterr() == ("", "")


class Stopped:
    """A solver that casadi has stopped because Python was interrupted."""

    def __call__(self, **given: Any) -> dict[str, Any]:
        """End where it began."""
        return {"x": given["x0"], "f": 0.0}

    def stats(self) -> dict[str, Any]:
        """What IPOPT says then."""
        return {"return_status": INTERRUPTED, "iter_count": 3}


def test_run_that_was_interrupted_interrupts() -> None:
    with pytest.raises(KeyboardInterrupt):
        run(Stopped(), x0=ONE, lbx=-ONE, ubx=ONE)


def test_bounds_that_leave_no_room_are_a_failed_run_and_no_exception() -> None:
    ran = run(overconstrained(), x0=ONE, lbx=ONE, ubx=-ONE, lbg=np.zeros(2), ubg=np.zeros(2))
    assert ran.status == BOUNDS_CROSS
    problem = walker_problem(setting=given(4.0))
    solver = Solver(problem)
    p = np.concatenate([numbers_of(problem), np.zeros(solver.margin_count)])
    lo, hi = solver.ipopt.bounds_at(p)
    index = int(np.flatnonzero(np.isfinite(lo) & np.isfinite(hi))[0])
    solver.ipopt.bounds_at = lambda _: (lo, np.where(np.arange(len(hi)) == index, lo - 1, hi))  # type: ignore[method-assign]
    assert not solver.solve(problem).solved
