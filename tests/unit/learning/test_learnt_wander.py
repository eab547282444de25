"""Wander is found as it was drawn, its intervals hold the truth as often as they say, and noise alone is none."""

import numpy as np
import pytest

from choreo.learning.stretches import POINTS, Stretch
from choreo.learning.wander import wander_of

SIZE, OVER, STEP, NOISE, RUNS = 0.08, 1.5, 0.1, 0.02, 20
SERIES = 120
APART = np.abs(np.subtract.outer(np.arange(POINTS), np.arange(POINTS))) * STEP
ROOT = np.linalg.cholesky(np.exp(-APART / OVER) + 1e-9 * np.eye(POINTS))


def course(random: np.random.Generator, size: float) -> Stretch:
    """A first-order course round a level of its own, with noise."""
    drawn = size * (ROOT @ random.standard_normal(POINTS)) + random.normal(0.0, 0.3)
    return Stretch(STEP, drawn + NOISE * random.standard_normal(POINTS))


def test_wander_is_found_with_intervals_that_hold_it_as_often_as_they_say() -> None:
    random = np.random.default_rng(8)
    sizes, overs, found_sizes = 0, 0, []
    for _ in range(SERIES):
        found = wander_of("speed wander", "car", [course(random, SIZE) for _ in range(RUNS)])
        assert found is not None
        found_sizes.append(found.size)
        sizes += found.size_low <= SIZE <= found.size_high
        overs += found.over_low <= OVER <= (found.over_high or np.inf)
    # 95 % of 120, give or take three standard deviations.
    assert 0.89 < sizes / SERIES < 1.0
    assert 0.89 < overs / SERIES < 1.0
    assert np.median(found_sizes) == pytest.approx(SIZE, rel=0.05)


def test_noise_alone_and_few_runs_are_no_wander() -> None:
    random = np.random.default_rng(9)
    told = [
        wander_of("path wander", "car", [course(random, 0.0) for _ in range(8)]) is not None
        for _ in range(60)
    ]
    assert sum(told) <= 2
    assert wander_of("path wander", "car", [course(random, SIZE)] * 2) is None


def test_a_wander_that_rounds_to_nothing_is_none() -> None:
    random = np.random.default_rng(8)
    those = [course(random, SIZE) for _ in range(RUNS)]
    tiny = [Stretch(STEP, 1e-3 * one.values) for one in those]
    assert wander_of("path wander", "car", those) is not None
    assert wander_of("path wander", "car", tiny) is None
    assert wander_of("speed wander", "car", tiny) is None
