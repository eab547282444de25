"""Solvers by structure and form: a structure is written once, however many neighbours are solved."""

from __future__ import annotations

from typing import Any

from choreo.problem.records import Problem
from choreo.solve.formulation import USUAL_FORM, Form
from choreo.solve.solver import Solver, structure_key

# A case has few structures; what is dropped is only built again.
MOST_SOLVERS = 24


class Solvers:
    """Keeps every solver that it has built, the latest used ones where they are many."""

    def __init__(self) -> None:
        self._kept: dict[tuple[Any, ...], Solver] = {}
        self.built = 0

    def of(self, problem: Problem, form: Form = USUAL_FORM) -> Solver:
        """Give a solver of the problem's structure in a form."""
        key = structure_key(problem, form)
        solver = self._kept.pop(key, None)
        if solver is None:
            solver = Solver(problem, form)
            self.built += 1
        self._kept[key] = solver
        if len(self._kept) > MOST_SOLVERS:
            del self._kept[next(iter(self._kept))]
        return solver
