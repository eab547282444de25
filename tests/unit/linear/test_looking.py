"""What is least between two looks is found there."""

import pytest

from choreo.linear.looking import least_of


def test_a_dip_between_two_looks_is_found() -> None:
    least, time = least_of([0.0, 1.0, 2.0, 3.0], lambda t: (t - 1.4) ** 2 - 0.01)
    assert (least, time) == (pytest.approx(-0.01, abs=1e-9), pytest.approx(1.4, abs=1e-4))


def test_of_two_dips_the_deeper_one_counts() -> None:
    def value(time: float) -> float:
        return min((time - 1.3) ** 2, (time - 4.6) ** 2 - 0.5)

    assert least_of([float(t) for t in range(7)], value)[0] == pytest.approx(-0.5, abs=1e-9)


def test_an_end_counts_without_neighbours() -> None:
    assert least_of([2.0], lambda t: t) == (2.0, 2.0)
    assert least_of([0.0, 1.0], lambda t: -t) == (-1.0, 1.0)
