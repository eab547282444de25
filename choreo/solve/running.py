"""One run of a solver that casadi built: without a word on the terminal, ended by Ctrl-C, never by its numbers."""

from __future__ import annotations

import io
import math
from contextlib import redirect_stderr, redirect_stdout
from typing import Any

import numpy as np
import numpy.typing as npt

from choreo.words.records import dataclass

Vector = npt.NDArray[np.float64]
# Of the unknowns' bounds, shape (n,), and of the rows, shape (m,).
Multipliers = tuple[Vector, Vector]

# What IPOPT calls it when casadi asks it to stop, which it does for Ctrl-C only: nothing of ours asks.
INTERRUPTED = "User_Requested_Stop"
BOUNDS_CROSS = "Bounds_Cross"


@dataclass(frozen=True, slots=True)
class Ran:
    """Where a run ended: unknowns, shape (n,), objective, the solver's word for it, iterations, multipliers."""

    x: Vector
    objective: float
    status: str
    iterations: int
    multipliers: Multipliers


def run(solver: Any, **given: Vector) -> Ran:
    """Run a solver from x0 within lbx and ubx, lbg and ubg; p: parameters; lam_x0, lam_g0: multipliers there.

    Bounds that leave no room give the status BOUNDS_CROSS: casadi would raise. What casadi and IPOPT print is dropped,
    the status says it. Raises KeyboardInterrupt: casadi takes Ctrl-C from Python and only ends the run by it.
    """
    if np.any(given["lbx"] > given["ubx"]):
        none = np.zeros(len(given["x0"])), np.zeros(len(given["lbg"]))
        return Ran(given["x0"], math.inf, BOUNDS_CROSS, 0, none)
    with redirect_stdout(io.StringIO()), redirect_stderr(io.StringIO()):
        result = solver(**given)
    stats = solver.stats()
    status = str(stats.get("return_status", "unknown"))
    if status == INTERRUPTED:
        raise KeyboardInterrupt
    return Ran(
        np.asarray(result["x"]).ravel(),
        float(result["f"]),
        status,
        int(stats.get("iter_count", 0)),
        (np.asarray(result["lam_x"]).ravel(), np.asarray(result["lam_g"]).ravel()),
    )
