"""Published worked values of uncertainty: sampled numbers, intervals, shares, tails, and the runs that tell them.

Numbers are drawn as the runs of a plan draw them. The distributions of JCGM 101 that no source of error has (rectangles
with unsure ends, arcsine, t) are made of such rectangular ones by their definitions.
"""

import math
from collections.abc import Callable

import numpy as np
import pytest
from scipy.special import stdtrit
from scipy.stats import qmc

from choreo.errors.drawing import draw
from choreo.errors.statistics import (
    Floats,
    normal_inside,
    quantiles,
    runs_for,
    shares_of_spread,
    shortest_interval,
    summary_of,
    tries_enough,
)
from choreo.errors.together import total_shares
from choreo.scenario import ErrorSource, Spread

RUNS = 1_000_000
ROOT3 = math.sqrt(3.0)


def rectangles(*spreads: float) -> Floats:
    """Rectangular numbers round zero with these standard deviations, shape (runs, numbers)."""
    return drawn(*(Spread("uniform", 0.0, ROOT3 * one) for one in spreads))


def drawn(*spreads: Spread, runs: int = RUNS, seed: int = 7, quasi: bool = False) -> Floats:
    """Numbers as the runs of a plan draw them, each from a source of its own, shape (runs, numbers)."""
    sources = tuple(ErrorSource("position", f"{at}", one) for at, one in enumerate(spreads))
    return draw(sources, runs, seed, quasi=quasi).values


def half_width(values: Floats) -> float:
    low, high = quantiles(values, (0.025, 0.975))
    return (high - low) / 2.0


def test_four_rectangles_have_a_smaller_factor_than_a_normal_number() -> None:
    total = rectangles(1.0, 1.0, 1.0, 1.0).sum(axis=1)
    assert summary_of(total).spread == pytest.approx(2.0, abs=0.005)
    assert half_width(total) == pytest.approx(3.87941, abs=0.01)  # C115


def test_dominant_rectangle() -> None:
    total = rectangles(1.0, 1.0, 1.0, 10.0).sum(axis=1)
    spread = summary_of(total).spread
    assert spread == pytest.approx(math.sqrt(103.0), abs=0.02)  # C116: 10.149
    assert half_width(total) == pytest.approx(17.0, abs=0.1)  # C116
    assert 1.959964 * spread == pytest.approx(19.9, abs=0.1)  # C116, first order


def test_four_normal_numbers() -> None:
    total = drawn(*(4 * [Spread("normal", 0.0, 1.0)])).sum(axis=1)
    assert half_width(total) == pytest.approx(3.92, abs=0.01)  # C117


def test_mass_calibration_has_more_spread_than_first_order_says() -> None:
    reference, small, air, weight, standard = drawn(
        Spread("normal", 100_000.0, 0.050),
        Spread("normal", 1.234, 0.020),
        Spread("uniform", 1.20, 0.10),
        Spread("uniform", 8000.0, 1000.0),
        Spread("uniform", 8000.0, 50.0),
    ).T
    off = (reference + small) * (1 + (air - 1.2) * (1 / weight - 1 / standard)) - 100_000.0
    told = summary_of(off)
    assert told.mean == pytest.approx(1.2340, abs=3e-4)  # C118
    assert told.spread == pytest.approx(0.0754, abs=3e-4)  # C118
    assert (told.low, told.high) == pytest.approx((1.0834, 1.3825), abs=2e-3)  # C118
    # The derivatives by the densities are zero at the best estimates.
    assert math.hypot(0.050, 0.020) == pytest.approx(0.0539, abs=1e-4)  # C118


def trapezoid(unsure: Floats, within: Floats, half: float, by: float) -> Floats:
    """A rectangle round zero whose half width is itself unsure, of two numbers from 0 to 1: JCGM 101, 6.4.3.4."""
    low = -half - by + 2 * by * unsure
    return low + (-low - low) * within


def test_gauge_block() -> None:
    unit = Spread("uniform", 0.5, 0.5)
    # Points of low discrepancy: an eighth of the runs tell as much.
    shares = drawn(*(10 * [unit]), Spread("normal", -0.1, 0.2), runs=2**17, quasi=True).T
    standard = 50_000_623.0 + 25.0 * stdtrit(18, shares[0])
    difference = 215.0 + 6.0 * stdtrit(24, shares[1])
    difference += 4.0 * stdtrit(5, shares[2]) + 7.0 * stdtrit(8, shares[3])
    expansion = 9.5e-6 + 4e-6 * shares[4]
    temperature = shares[10] + 0.5 * np.sin(2 * math.pi * shares[5])
    correction = trapezoid(shares[6], shares[7], 1.0e-6, 0.1e-6) * temperature
    correction += expansion * trapezoid(shares[8], shares[9], 0.050, 0.025)
    length = standard + difference - standard * correction - 50_000_000.0
    told = summary_of(length, 0.99)
    assert told.mean == pytest.approx(838.0, abs=1.0)  # C119
    assert told.spread == pytest.approx(36.0, abs=0.5)  # C119
    assert (told.low, told.high) == pytest.approx((745.0, 932.0), abs=2.0)  # C119


@pytest.mark.parametrize(
    ("x1", "together", "mean", "spread", "low", "high"),
    [
        (0.000, 0.0, 50, 50, 0, 150),
        (0.010, 0.0, 150, 112, 0, 367),
        (0.050, 0.0, 2550, 502, 1590, 3543),
        (0.000, 0.9, 50, 67, 0, 185),
        (0.010, 0.9, 150, 121, 13, 398),
        (0.050, 0.9, 2550, 505, 1628, 3555),
    ],
)
def test_loss_of_power(
    x1: float, together: float, mean: float, spread: float, low: float, high: float
) -> None:
    # Where the shortest interval lies is poorly determined; points of low discrepancy tell it better.
    normal = Spread("normal", 0.0, 1.0)
    one, other = drawn(normal, normal, runs=2**19, quasi=True).T
    other = together * one + math.sqrt(1 - together**2) * other
    loss = ((x1 + 0.005 * one) ** 2 + (0.005 * other) ** 2) * 1e6
    exact = 4 * x1**2 * 25e-6 + 4 * 625e-12 * (1 + together**2)
    assert 1e6 * math.sqrt(exact) == pytest.approx(spread, abs=0.6)  # C120
    assert 1e6 * (x1**2 + 2 * 25e-6) == pytest.approx(mean)  # C120
    told = summary_of(loss)
    assert told.mean == pytest.approx(mean, abs=2.0)
    assert told.spread == pytest.approx(1e6 * math.sqrt(exact), abs=2.0)
    found = shortest_interval(loss, 0.95)
    # The listed ends were sampled too, to about 6; ours are to 3.
    assert found == pytest.approx((low, high), abs=9.0)  # C120
    assert found[1] - found[0] == pytest.approx(high - low, abs=6.0)  # C120


def totals(function: Callable[[Floats], Floats], *spreads: Spread) -> Floats:
    """What each number has a hand in, as it is told of runs: twice drawn, one number after the other exchanged."""
    base, other = (drawn(*spreads, runs=2**16, seed=seed) for seed in (7, 8))
    exchanged = []
    for index in range(len(spreads)):
        mixed = base.copy()
        mixed[:, index] = other[:, index]
        exchanged.append(function(mixed))
    return total_shares(function(base), np.array(exchanged))


def ishigami(x: Floats) -> Floats:
    return np.asarray(
        np.sin(x[:, 0]) + 7 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0])
    )


def test_shares_of_the_function_of_ishigami_and_homma() -> None:
    spreads = 3 * [Spread("uniform", 0.0, math.pi)]
    x = drawn(*spreads, runs=100_000)
    y = ishigami(x)
    assert np.var(y) == pytest.approx(13.844588, abs=0.15)  # C121
    assert np.mean(y) == pytest.approx(3.5, abs=0.03)  # C121
    shares = shares_of_spread(x, y)
    assert shares == pytest.approx([0.313905, 0.442411, 0.0], abs=0.01)  # C121
    # The first and the third only do it together.
    assert 1.0 - shares.sum() == pytest.approx(0.243684, abs=0.01)  # C121
    expected = [0.557589, 0.442411, 0.243684]
    assert totals(ishigami, *spreads) == pytest.approx(expected, abs=0.01)  # C121


def g_function(x: Floats) -> Floats:
    a = np.array([0.0, 1.0, 4.5, 9.0, 99.0, 99.0, 99.0, 99.0])
    return np.asarray(np.prod((np.abs(4 * x - 2) + a) / (1 + a), axis=1))


def test_shares_of_the_g_function() -> None:
    spreads = 8 * [Spread("uniform", 0.5, 0.5)]
    x = drawn(*spreads, runs=100_000)
    y = g_function(x)
    assert np.var(y) == pytest.approx(0.465424, abs=0.01)  # C122
    expected = [0.716192, 0.179048, 0.023676, 0.007162, *[0.000072] * 4]
    assert shares_of_spread(x, y) == pytest.approx(expected, abs=0.01)  # C122
    whole = [0.787144, 0.242198, 0.034317, 0.010460, *[0.000105] * 4]
    assert totals(g_function, *spreads) == pytest.approx(whole, abs=0.01)  # C122


def test_points_of_low_discrepancy() -> None:
    sobol = [(0, 0), (0.5, 0.5), (0.75, 0.25), (0.25, 0.75)]
    sobol += [(0.375, 0.375), (0.875, 0.875), (0.625, 0.125), (0.125, 0.625)]
    assert qmc.Sobol(2, scramble=False).random(8).tolist() == [list(one) for one in sobol]  # C123
    halton = [
        (0, 0),
        (1 / 2, 1 / 3),
        (1 / 4, 2 / 3),
        (3 / 4, 1 / 9),
        (1 / 8, 4 / 9),
        (5 / 8, 7 / 9),
    ]
    assert qmc.Halton(2, scramble=False).random(6) == pytest.approx(np.array(halton))  # C123


def test_expansion_of_a_lognormal_number() -> None:
    """Coefficients by quadrature, and what each order has of the variance against a sampled one."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(40)
    weights = weights / weights.sum()
    values = np.exp(0.25 * nodes)
    found = [
        float(weights @ (values * np.polynomial.hermite_e.hermeval(nodes, [0.0] * k + [1.0])))
        / math.factorial(k)
        for k in range(5)
    ]
    listed = [1.0317434, 0.2579359, 0.0322420, 0.0026868, 0.0001679]
    assert found == pytest.approx(listed, abs=1e-7)  # C124
    parts = [c**2 * math.factorial(k) for k, c in enumerate(found)][1:]
    by_order = [0.0665309, 0.0686100, 0.0686533, 0.0686540]
    assert np.cumsum(parts) == pytest.approx(by_order, abs=1e-7)  # C124
    sampled = np.exp(0.25 * np.random.default_rng(7).standard_normal(RUNS))
    assert summary_of(sampled).spread ** 2 == pytest.approx(0.0686540, abs=3e-4)  # C124


def test_tails_and_the_runs_that_tell_them() -> None:
    listed = [0.0227501, 0.00134990, 3.16712e-5, 2.86652e-7]
    tails = [normal_inside(0.0, 1.0, -math.inf, -beta) for beta in (2, 3, 4, 5)]
    assert tails == pytest.approx(listed, rel=1e-5)  # C125
    # The other side is as exact: no difference of two numbers near one.
    assert [normal_inside(0.0, 1.0, beta, math.inf) for beta in (2, 3, 4, 5)] == tails
    runs = [runs_for(tail, 0.1) for tail in tails[:3]]
    assert runs == pytest.approx([4296, 73_980, 3.157e6], rel=1e-3)  # C125


def test_resistance_against_load() -> None:
    spread = math.hypot(20.0, 10.0)
    assert (200.0 - 150.0) / spread == pytest.approx(2.23607, abs=1e-5)  # C126
    assert normal_inside(50.0, spread, -math.inf, 0.0) == pytest.approx(0.0126737, abs=1e-7)  # C126


def test_runs_that_reach_beyond_a_quantile() -> None:
    assert tries_enough(0.05, 1) == 59  # C127
    assert tries_enough(0.05, 2) == 93  # C127


@pytest.mark.parametrize(
    ("low", "high", "mean", "spread"),
    [
        (0.0, 1.0, 0.5, 0.2887),
        (-1.0, 1.0, 0.0, 0.5774),
        (-0.2, 0.2, 0.0, 0.1155),
        (-0.05, 0.05, 0.0, 0.0289),
    ],
)
def test_band_as_a_rectangle(low: float, high: float, mean: float, spread: float) -> None:
    drawn = np.random.default_rng(7).uniform(low, high, 100_000)
    told = summary_of(drawn)
    assert told.mean == pytest.approx(mean, abs=0.003)  # C131
    assert told.spread == pytest.approx(spread, abs=0.001)  # C131
