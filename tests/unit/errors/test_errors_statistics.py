"""Chances with their intervals, tries that suffice, intervals and shares of drawn values."""

import math

import numpy as np
import pytest
from scipy.stats import binom

from choreo.errors.statistics import (
    chance_of,
    normal_inside,
    shares_of_spread,
    shortest_interval,
    tries_enough,
    tries_expected,
)


def test_interval_of_a_chance_is_where_the_count_becomes_improbable() -> None:
    told = chance_of(924, 1000)
    assert told.value == 0.924
    assert binom.sf(923, 1000, told.low) == pytest.approx(0.025)
    assert binom.cdf(924, 1000, told.high) == pytest.approx(0.025)


def test_interval_of_what_never_or_always_happened_has_one_open_end() -> None:
    assert chance_of(0, 50).low == 0.0
    assert chance_of(0, 50).high == pytest.approx(1 - 0.025 ** (1 / 50))
    assert chance_of(50, 50).high == 1.0
    assert chance_of(50, 50).low == pytest.approx(0.025 ** (1 / 50))


def test_interval_holds_the_truth_in_about_as_many_experiments_as_it_says() -> None:
    counts = np.random.default_rng(1).binomial(2000, 0.9, 2000)
    told = [chance_of(int(count), 2000) for count in counts]
    assert 0.93 < np.mean([one.low <= 0.9 <= one.high for one in told]) < 0.97


@pytest.mark.parametrize(("count", "runs"), [(1, 0), (3, 2), (-1, 5)])
def test_what_cannot_be_counted_is_refused(count: int, runs: int) -> None:
    with pytest.raises(ValueError, match="can't be counted"):
        chance_of(count, runs)


@pytest.mark.parametrize(("chance", "wanted"), [(0.924, 1), (0.924, 10), (0.3, 3), (0.001, 2)])
def test_tries_that_suffice_are_the_least(chance: float, wanted: int) -> None:
    tries = tries_enough(chance, wanted)
    assert tries is not None
    assert binom.sf(wanted - 1, tries, chance) >= 0.95
    assert binom.sf(wanted - 1, tries - 1, chance) < 0.95


def test_tries_at_the_ends_of_chance() -> None:
    assert tries_enough(1.0, 5) == 5
    assert tries_enough(0.0) is None
    assert tries_enough(1e-12) is None
    assert tries_expected(0.925, 2) == pytest.approx(2.16216, abs=1e-5)
    assert tries_expected(0.0) == math.inf


def test_shortest_interval_leaves_the_long_tail_out() -> None:
    values = np.random.default_rng(1).exponential(1.0, 200_000)
    low, high = shortest_interval(values, 0.95)
    assert low == pytest.approx(0.0, abs=0.01)
    assert high == pytest.approx(-math.log(0.05), abs=0.02)


def test_probability_inside_of_what_does_not_spread() -> None:
    assert normal_inside(0.1, 0.0, -0.15, 0.15) == 1.0
    assert normal_inside(0.2, 0.0, -0.15, 0.15) == 0.0


def test_shares_see_what_a_straight_line_does_not() -> None:
    drawn = np.random.default_rng(1).standard_normal((100_000, 3))
    values = 2.0 * drawn[:, 0] + drawn[:, 1] ** 2  # variances 4 and 2
    assert shares_of_spread(drawn, values) == pytest.approx([2 / 3, 1 / 3, 0.0], abs=0.02)
    assert shares_of_spread(drawn, np.ones(100_000)) == pytest.approx([0.0, 0.0, 0.0])
    assert shares_of_spread(drawn[:20], values[:20]) == pytest.approx([0.0, 0.0, 0.0])
