"""Bias and spread of what may be off, cut or not, against scipy's distributions and draws."""

import math

import pytest
from scipy import stats

from choreo.scenario import Spread


@pytest.mark.parametrize("middle", [0.0, 0.004, -0.03])
def test_cut_normal_has_mean_and_deviation_of_a_truncated_normal(middle: float) -> None:
    spread = Spread("normal", middle, 0.01, least=-0.012)
    low = (-0.012 - middle) / 0.01
    wanted = stats.truncnorm(low, math.inf, loc=middle, scale=0.01)
    assert spread.bias == pytest.approx(wanted.mean(), abs=1e-12)
    assert spread.standard_deviation == pytest.approx(wanted.std(), rel=1e-9)
    assert spread.share_cut_off == pytest.approx(stats.norm.cdf(low), rel=1e-12)


def test_cut_uniform_is_the_uniform_of_what_is_left() -> None:
    spread = Spread("uniform", 0.01, 0.02, least=0.0)
    assert spread.share_cut_off == pytest.approx(0.25)
    assert spread.bias == pytest.approx(0.015)
    assert spread.standard_deviation == pytest.approx(0.015 / math.sqrt(3.0))


def test_uncut_spreads_are_as_written() -> None:
    assert Spread("normal", 0.3, 0.1).standard_deviation == 0.1
    assert Spread("normal", 0.3, 0.1).bias == 0.3
    assert Spread("uniform", 0.3, 0.1).standard_deviation == pytest.approx(0.0577350, abs=1e-7)
