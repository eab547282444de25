"""The fewest of some sets that hold all of what any of them holds, and how few it takes at least.

Set cover: exact by branch and bound in whole numbers while that takes few nodes; beyond, the best found and the bound
of the linear relaxation are told. Source: Chvatal, A greedy heuristic for the set-covering problem, 1979; from memory.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from choreo.problem.linear import LinearProblem
from choreo.solve import solve_linear, solve_whole
from choreo.words.records import dataclass

# Nodes of the search in whole numbers, and the most sets that are handed to it.
MOST_NODES = 2000
MOST_SETS = 3000
# What a bound may be above a whole number by rounding.
ROUNDING = 1e-6


@dataclass(frozen=True, slots=True)
class Cover:
    """Which sets were chosen, by index, in order; at_least: no choice of fewer holds everything."""

    chosen: tuple[int, ...]
    at_least: int


def least_cover(sets: Sequence[frozenset[int]]) -> Cover:
    """Choose the fewest sets that together hold all that any of them holds.

    Among equal ones those named first. The bound is never above the least number.
    """
    kept = _largest(sets)
    everything = frozenset().union(*sets)
    if not everything:
        return Cover((), 0)
    greedy = _greedy(sets, kept, everything)
    problem = _problem([sets[index] for index in kept], sorted(everything))
    relaxed = solve_linear(problem)
    bound = 1 if relaxed is None else math.ceil(float(relaxed.sum()) - ROUNDING)
    if bound >= len(greedy) or len(kept) > MOST_SETS:
        return Cover(greedy, min(bound, len(greedy)))
    whole = solve_whole(problem, MOST_NODES)
    if math.isfinite(whole.at_least):
        bound = max(bound, math.ceil(whole.at_least - ROUNDING))
    found = greedy
    if whole.x is not None:
        chosen = tuple(kept[index] for index in np.flatnonzero(whole.x > 0.5))
        held = frozenset().union(*(sets[index] for index in chosen))
        if held == everything and len(chosen) < len(greedy):
            found = chosen
    return Cover(found, min(bound, len(found)))


def _largest(sets: Sequence[frozenset[int]]) -> list[int]:
    """Indices of the sets that no other holds whole; of equal ones the first."""
    order = sorted(range(len(sets)), key=lambda index: (-len(sets[index]), index))
    kept: list[int] = []
    for index in order:
        if sets[index] and not any(sets[index] <= sets[other] for other in kept):
            kept.append(index)
    return sorted(kept)


def _greedy(
    sets: Sequence[frozenset[int]], kept: Sequence[int], everything: frozenset[int]
) -> tuple[int, ...]:
    """The set that holds most of what is left, again and again; then without those that are not needed."""
    left, chosen = set(everything), []
    while left:
        best = max(kept, key=lambda index: (len(sets[index] & left), -index))
        chosen.append(best)
        left -= sets[best]
    for index in sorted(chosen, key=lambda one: len(sets[one])):
        others = [one for one in chosen if one != index]
        if frozenset().union(*(sets[one] for one in others)) == everything:
            chosen = others
    return tuple(sorted(chosen))


def _problem(sets: Sequence[frozenset[int]], items: Sequence[int]) -> LinearProblem:
    matrix = np.array([[float(item in one) for one in sets] for item in items])
    count = len(sets)
    return LinearProblem(
        matrix,
        np.ones(len(items)),
        np.full(len(items), np.inf),
        np.zeros(count),
        np.ones(count),
        np.ones(count),
    )
