"""A linear problem as arrays: what a proof asks, and what the solver's package answers."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from choreo.words.records import dataclass

Vector = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class LinearProblem:
    """minimise cost . x with row_lo <= matrix x <= row_hi and lo <= x <= hi (open ends infinite).

    matrix: shape (rows, unknowns); row_lo, row_hi: shape (rows,); lo, hi, cost: shape (unknowns,).
    """

    matrix: Vector
    row_lo: Vector
    row_hi: Vector
    lo: Vector
    hi: Vector
    cost: Vector
