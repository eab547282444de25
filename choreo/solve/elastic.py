"""The nearest miss when no solution was found: the elastic problem, whose rows may all give way at a price.

Source, from memory: Chinneck, Feasibility and Infeasibility in Optimization (2008), elastic programming.
"""

from __future__ import annotations

from typing import Any

import casadi as ca
import numpy as np

from choreo.solve.assemble import Assembly
from choreo.solve.ipopt import OPTIONS, Ipopt
from choreo.solve.running import Vector, run
from choreo.solve.tolerances import ROW_TOLERANCE
from choreo.words.origin import Origin
from choreo.words.records import dataclass

# A small multiple of the objective makes the minimiser unique where several misses are equal; 100 m of runway weigh as
# much as a miss of a millimetre.
OBJECTIVE_SHARE = 1e-5
# A row that is missed by more than this (m, s, ...) is broken: ten times what a solution may miss.
MISSED = 10 * ROW_TOLERANCE


@dataclass(frozen=True, slots=True)
class Miss:
    """A named row that the nearest motion breaks, and by how much in its unit."""

    name: str
    amount: float
    unit: str
    origin: Origin | None


def nearest_miss(
    assembly: Assembly, solver: Ipopt, p: Vector, x0: Vector
) -> tuple[Vector, list[Miss]]:
    """Minimise the sum of row violations (in their units), keeping the unknowns' bounds.

    Returns the motion found (a starting point for another try) and the broken rows, worst first.
    """
    rows = assembly.formulation.rows
    slack = ca.SX.sym("slack", 2 * len(rows))
    x = ca.vertcat(solver.x, slack)
    count = len(rows)
    softened = ca.vertcat(
        *[row.expression + slack[i] - slack[count + i] for i, row in enumerate(rows)]
    )
    objective = ca.sum1(slack) + OBJECTIVE_SHARE * assembly.objective
    nlp: dict[str, Any] = {"x": x, "p": solver.p, "f": objective, "g": softened}
    elastic = ca.nlpsol("nearest", "ipopt", nlp, OPTIONS)
    lo, hi = solver.bounds_at(p)
    start = np.clip(np.nan_to_num(x0), lo, hi)
    g = np.asarray(solver.rows(start, p)).ravel()
    below = np.maximum(solver.row_lo - g, 0.0)
    above = np.maximum(g - solver.row_hi, 0.0)
    ran = run(
        elastic,
        x0=np.concatenate([start, below, above]),
        p=p,
        lbx=np.concatenate([lo, np.zeros(2 * count)]),
        ubx=np.concatenate([hi, np.full(2 * count, np.inf)]),
        lbg=solver.row_lo,
        ubg=solver.row_hi,
    )
    found = ran.x[: len(lo)]
    residuals = solver.residuals(found, p)
    misses: dict[str, Miss] = {}
    for row, amount in zip(rows, residuals, strict=True):
        known = misses.get(row.name)
        if amount > MISSED and (known is None or amount > known.amount):
            misses[row.name] = Miss(row.name, float(amount), row.unit, row.origin)
    return found, sorted(misses.values(), key=lambda miss: -miss.amount)
