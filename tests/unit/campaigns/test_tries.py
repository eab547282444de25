"""Tries until enough were valid: against the distribution summed by its definition."""

from math import comb

import pytest

from choreo.campaigns.day.tries import cautious, expected, shared


def _enough(tries: int, needed: int, valid: float) -> float:
    """The chance of at least `needed` valid ones among so many tries."""
    return sum(
        comb(tries, k) * valid**k * (1.0 - valid) ** (tries - k) for k in range(needed, tries + 1)
    )


@pytest.mark.parametrize(("needed", "valid"), [(1, 0.85), (3, 0.85), (44, 0.85), (115, 0.6)])
def test_the_cautious_number_is_the_least_that_is_enough(needed: int, valid: float) -> None:
    tries = cautious(needed, valid)
    assert _enough(tries, needed, valid) >= 0.95 > _enough(tries - 1, needed, valid)


def test_means_and_ends_of_the_range() -> None:
    assert expected(3, 0.85) == pytest.approx(3.529412, abs=1e-6)
    assert cautious(0, 0.5) == 0
    assert cautious(7, 1.0) == 7


def test_tries_are_shared_whole_and_add_up() -> None:
    assert shared(10, [3, 3, 2]) == [3, 4, 3]
    assert shared(8, [3, 3, 2]) == [3, 3, 2]
