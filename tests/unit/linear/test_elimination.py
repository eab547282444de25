"""Linear equations of one pattern: solved as a dense matrix is, with numbers that the way was not worked out for."""

import numpy as np
import pytest

from choreo.linear.elimination import Elimination, elimination_of


def solved(way: Elimination, matrix: np.ndarray, sides: np.ndarray) -> list[float]:
    numbers = [0.0] * way.size
    for at, one in zip(*np.nonzero(matrix), strict=True):
        numbers[way.places[int(at), int(one)]] = float(matrix[at, one])
    return way.solve(numbers, sides.tolist())


def pattern(matrix: np.ndarray) -> list[dict[int, float]]:
    return [{int(one): float(row[one]) for one in np.flatnonzero(row)} for row in matrix]


def test_other_numbers_of_a_pattern_are_solved_as_by_a_dense_matrix() -> None:
    drawn = np.random.default_rng(1)
    off: list[float] = []
    while len(off) < 40:
        size = int(drawn.integers(1, 16))
        there = drawn.random((size, size)) < 3.0 / size
        first = np.where(there, drawn.normal(size=(size, size)), 0.0)
        other = first * drawn.uniform(0.8, 1.2, (size, size))
        if max(np.linalg.cond(first), np.linalg.cond(other)) > 1e5:
            continue
        way, sides = elimination_of(pattern(first), size), drawn.normal(size=size)
        found = np.full(size, np.inf) if way is None else np.array(solved(way, other, sides))
        wanted = np.linalg.solve(other, sides)
        off.append(float(np.max(np.abs(found - wanted)) / np.max(np.abs(wanted))))
    assert max(off) < 1e-9


def test_of_more_equations_than_unknowns_those_are_left_out_that_say_nothing_more() -> None:
    matrix = np.array([[1.0, 2.0], [2.0, 4.0], [0.0, 3.0]])
    way = elimination_of(pattern(matrix), 2)
    assert way is not None
    assert solved(way, matrix, matrix @ [5.0, 7.0]) == pytest.approx([5.0, 7.0])


def test_equations_from_which_nothing_follows_have_no_way() -> None:
    assert elimination_of([{0: 1.0, 1: 2.0}, {0: 2.0, 1: 4.0}], 2) is None
    assert elimination_of([{0: 1.0}], 2) is None
    way = elimination_of([{0: 1.0, 1: 2.0}, {1: 4.0}], 2)
    assert way is not None
    with pytest.raises(ZeroDivisionError):
        solved(way, np.array([[1.0, 2.0], [0.0, 0.0]]), np.ones(2))
