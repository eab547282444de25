"""A page draws paths from few samples; they must give the path back to a fraction of a pixel."""

import numpy as np
import pytest

from choreo.geometry import CurvePath
from choreo.geometry.cusps import CuspPath
from choreo.page.samples import between, sampled
from choreo.page.tolerances import DRAWN_HEADING_RAD, DRAWN_M

CIRCLE = [(40.0, 0.0, 0.0), (20.0, 0.0, 1 / 12), (15.0, 1 / 12, 1 / 12), (20.0, 1 / 12, 0.0)]
KINKED = [(30.0, 0.0, 0.0), (20.0, 1 / 15, 1 / 15), (20.0, -1 / 15, -1 / 15), (5.0, 0.0, 0.0)]
STRAIGHT = [(1000.0, 0.0, 0.0)]


@pytest.mark.parametrize("stretches", [CIRCLE, KINKED, STRAIGHT])
def test_poses_between_samples_are_the_paths_own(
    stretches: list[tuple[float, float, float]],
) -> None:
    path = CurvePath(stretches, (3.0, -2.0), 0.7)
    samples = sampled(path, -5.0, path.length_m + 5.0)
    stations = np.linspace(-5.0, path.length_m + 5.0, 7919)
    x, y, heading = between(samples, stations)
    true = path.pose(stations)
    assert np.hypot(x - true.x_m, y - true.y_m).max() < 2 * DRAWN_M
    assert np.abs(heading - true.heading_rad).max() < 2 * DRAWN_HEADING_RAD


def test_a_path_that_turns_back_is_drawn_on_both_legs() -> None:
    legs = [CurvePath(CIRCLE), CurvePath(KINKED, CurvePath(CIRCLE).end_m, 0.7)]
    legs[1] = CurvePath(
        KINKED, legs[0].end_m, float(legs[0].heading_at(np.array([95.0]))[0] + np.pi)
    )
    path = CuspPath(legs, {})
    samples = sampled(path, -5.0, path.length_m + 5.0)
    stations = np.linspace(0.0, path.length_m, 7919)
    x, y, _ = between(samples, stations)
    true = path.pose(stations)
    assert np.hypot(x - true.x_m, y - true.y_m).max() < 2 * DRAWN_M


def test_a_straight_path_needs_few_samples() -> None:
    path = CurvePath(STRAIGHT)
    assert len(sampled(path, 0.0, path.length_m).s_m) <= 102


def test_too_coarse_samples_would_be_noticed() -> None:
    path = CurvePath(CIRCLE)
    samples = sampled(path, 0.0, path.length_m)
    coarse = type(samples)(
        *(getattr(samples, n)[::8] for n in ("s_m", "x_m", "y_m", "heading_rad"))
    )
    stations = np.linspace(0.0, float(coarse.s_m[-1]), 500)
    x, y, _ = between(coarse, stations)
    true = path.pose(stations)
    assert np.hypot(x - true.x_m, y - true.y_m).max() > DRAWN_M
