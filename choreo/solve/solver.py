"""One structure built once, solved for any numbers: the face of the solver."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import field, replace
from functools import partial
from typing import Any

import numpy as np

from choreo.problem.numbers import numbers_of, structure_of
from choreo.problem.records import MoverProblem, Problem
from choreo.solve.apart_rows import kept_apart
from choreo.solve.assemble import assemble
from choreo.solve.between import excesses
from choreo.solve.elastic import Miss, nearest_miss
from choreo.solve.formulation import USUAL_FORM, Form
from choreo.solve.guess import Guess
from choreo.solve.ipopt import Ipopt, Outcome
from choreo.solve.reading import Reading, Readings
from choreo.solve.running import Multipliers, Vector
from choreo.solve.tolerances import BETWEEN_POINTS_MPS2
from choreo.words.records import dataclass

# Factors on how long open holds are guessed to last, tried in turn. Bundled scenarios are solved from the very first
# start, with the couplings met; longer and shorter holds are for orders of events that it doesn't lead to.
PATIENCES = (1.0, 3.0, 10.0, 0.3)
# How often limits that are passed between the checked points may be tightened: once is usual.
TIGHTENINGS = 6
# Each time by this much of the excess: somewhat more than all of it, so that the next look finds none.
OVERSHOOT = 5 / 4


@dataclass(frozen=True)
class Solution:
    """What a solve gave: a reading of the motion if solved, else the nearest miss; and what was tried.

    multipliers: where it is a solution, for neighbours to start from.
    """

    solved: bool
    reading: Reading
    x: Vector
    misses: tuple[Miss, ...] = ()
    tried: tuple[str, ...] = ()
    iterations: int = 0
    margins: Vector = field(default_factory=lambda: np.zeros(0))
    multipliers: Multipliers | None = None


@dataclass(frozen=True, slots=True)
class Effort:
    """How many starting points to try, and whether to look for the nearest miss after the last."""

    explain: bool = True
    starts: int = 6


def in_order(problem: Problem) -> Problem:
    """Give a problem with its parts in an order that doesn't hang on where in the file they stand.

    Where an optimum is flat, or not the only one, the order of unknowns and rows decides where a solve ends. It is
    that of the structure, and of names only among those that are alike: numbers differ between neighbours.
    """

    def of_mover(mover: MoverProblem) -> tuple[Any, ...]:
        kinds = tuple(type(phase).__name__ for phase in mover.phases)
        return mover.launch_trigger is not None, mover.start.fixed, kinds, mover.name

    return replace(
        problem,
        movers=tuple(sorted(problem.movers, key=of_mover)),
        triggers=tuple(sorted(problem.triggers, key=lambda one: (one.condition, one.name))),
        encounters=tuple(
            sorted(problem.encounters, key=lambda one: (type(one).__name__, one.name))
        ),
    )


def structure_key(problem: Problem, form: Form) -> tuple[Any, ...]:
    """Give a hashable key of what is written for a problem in a form: equal keys share one solver."""
    problem = in_order(problem)
    return (form, kept_apart(problem, form), *structure_of(problem))


class Solver:
    """The formulation of one structure.

    Build it from any problem of that structure; solve() takes every other one, and a neighbour's solution
    as a start (a variant then costs a few milliseconds).
    """

    def __init__(self, problem: Problem, form: Form = USUAL_FORM) -> None:
        self.form = form
        self.structure = structure_key(problem, form)
        problem = in_order(problem)
        self.assembly = assemble(problem, form)
        self.ipopt = Ipopt(self.assembly)
        self.guess = Guess(self.assembly, self.ipopt)
        self.readings = Readings(self.assembly)
        self.margin_count = 2 * len(problem.movers)

    @property
    def unknown_count(self) -> int:
        """How many numbers a solution has."""
        return len(self.assembly.formulation.unknowns)

    def fits(self, problem: Problem) -> bool:
        """Say whether a problem has this solver's structure."""
        return structure_key(problem, self.form) == self.structure

    def solve(
        self, problem: Problem, *, near: Solution | None = None, effort: Effort | None = None
    ) -> Solution:
        """Solve for a problem's numbers.

        near: a neighbour's solution to start from. effort: how many starts, and whether to find the nearest miss
        when there is no solution. Raises ValueError for a problem of another structure: that is a programming error.
        """
        if not self.fits(problem):
            raise ValueError("the problem has another structure than this solver")
        problem = in_order(problem)
        numbers = np.array(numbers_of(problem))
        tried: list[str] = []
        margins = np.zeros(self.margin_count)
        if near is not None and near.solved:
            # With its multipliers it takes a few steps; where sides change, without them.
            known = () if near.multipliers is None else (near.multipliers,)
            for multipliers in (*known, None):
                outcome = self._run(problem, numbers, near.x, near.margins, multipliers)
                tried.append(f"from a neighbour: {outcome[0].status}")
                if outcome[0].solved:
                    return self._solution(numbers, *outcome, tried)
        p = np.concatenate([numbers, margins])
        starts: list[tuple[str, Callable[[], Vector]]] = [
            ("with the ties met", lambda: self.guess.coupled(p))
        ]
        starts += [
            (f"with holds x{patience:g}", partial(self.guess.at, p, patience))
            for patience in PATIENCES
        ]
        effort = effort or Effort()
        for words, start in starts[: effort.starts]:
            outcome = self._run(problem, numbers, start(), margins)
            tried.append(f"from a guess {words}: {outcome[0].status}")
            if outcome[0].solved:
                return self._solution(numbers, *outcome, tried)
        if not effort.explain:
            return self._solution(numbers, *outcome, tried)
        return self._nearest(problem, numbers, margins, tried)

    def _run(
        self,
        problem: Problem,
        numbers: Vector,
        start: Vector,
        margins: Vector,
        multipliers: Multipliers | None = None,
    ) -> tuple[Outcome, Vector]:
        """Solve, then tighten limits that are passed between the checked points, and solve again."""
        outcome = self.ipopt.solve(np.concatenate([numbers, margins]), start, multipliers)
        for _ in range(TIGHTENINGS):
            if not outcome.solved:
                break
            reading = self.readings.at(outcome.x, np.concatenate([numbers, margins]))
            excess = excesses(problem, reading)
            if excess.max(initial=0.0) <= BETWEEN_POINTS_MPS2:
                break
            margins = margins + np.where(excess > BETWEEN_POINTS_MPS2, OVERSHOOT * excess, 0.0)
            outcome = self.ipopt.solve(np.concatenate([numbers, margins]), outcome.x)
        return outcome, margins

    def _solution(
        self, numbers: Vector, outcome: Outcome, margins: Vector, tried: list[str]
    ) -> Solution:
        p = np.concatenate([numbers, margins])
        return Solution(
            solved=outcome.solved,
            reading=self.readings.at(outcome.x, p),
            x=outcome.x,
            tried=tuple(tried),
            iterations=outcome.iterations,
            margins=margins,
            multipliers=outcome.multipliers if outcome.solved else None,
        )

    def _nearest(
        self, problem: Problem, numbers: Vector, margins: Vector, tried: list[str]
    ) -> Solution:
        """The elastic problem; its motion is a last starting point for the true one."""
        p = np.concatenate([numbers, margins])
        found, misses = nearest_miss(self.assembly, self.ipopt, p, self.guess.at(p, 1.0))
        outcome, margins = self._run(problem, numbers, found, margins)
        tried.append(f"from the least violation: {outcome.status}")
        if outcome.solved:
            return self._solution(numbers, outcome, margins, tried)
        return Solution(
            solved=False,
            reading=self.readings.at(found, p),
            x=found,
            misses=tuple(misses),
            tried=tuple(tried),
            margins=margins,
        )
