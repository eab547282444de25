"""Problem -> solution: one nonlinear problem per structure. The only home of casadi.

FORMULATION.md, beside this file, states unknowns, rows and objective in formulas, in the order to read the modules.
"""

from choreo.solve.attempts import Solved, other_attempts, solve_staging
from choreo.solve.cache import Solvers
from choreo.solve.driven_bound import least_curvature_per_m
from choreo.solve.driven_line import DrivenLine, Line, Shape
from choreo.solve.elastic import Miss
from choreo.solve.ellipse_rows import ellipse_looks
from choreo.solve.linear import Whole, solve_linear, solve_whole
from choreo.solve.reach import Reach, Reached
from choreo.solve.solver import Effort, Solution, Solver
from choreo.solve.to_plan import plan_of

__all__ = [
    "DrivenLine",
    "Effort",
    "Line",
    "Miss",
    "Reach",
    "Reached",
    "Shape",
    "Solution",
    "Solved",
    "Solver",
    "Solvers",
    "Whole",
    "ellipse_looks",
    "least_curvature_per_m",
    "other_attempts",
    "plan_of",
    "solve_linear",
    "solve_staging",
    "solve_whole",
]
