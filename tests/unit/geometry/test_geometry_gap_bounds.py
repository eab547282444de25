"""Bounds of the slope of a gap's relation: they hold at every place, and narrow as the interval does."""

import math

import numpy as np
import pytest

from choreo.geometry import CurvePath, GapTrack
from choreo.geometry.bounds import Bounds
from choreo.geometry.parallel import ParallelPath

LANE = CurvePath(
    [(60.0, 0.0, 0.0), (40.0, 0.0, 0.02), (50.0, 0.02, 0.02), (30.0, 0.02, -0.01), (80.0, 0.0, 0.0)]
)
BESIDE = ParallelPath(LANE, 3.5, (0.0, LANE.length_m))
ONCOMING = ParallelPath(LANE, 3.5, (0.0, LANE.length_m), is_reversed=True)


@pytest.mark.parametrize("other", [LANE, BESIDE, ONCOMING], ids=["same", "beside", "oncoming"])
def test_no_slope_lies_outside_its_bounds(other: CurvePath | ParallelPath) -> None:
    track = GapTrack(LANE, other, 3.0, 1.5)
    told = 0
    lows = np.arange(0.0, other.length_m - 12.0, 17.3)
    assert len(lows) > 10
    for low in lows:
        for width in (0.5, 4.0, 12.0):
            bounds = track.slopes(low, low + width)
            if bounds is None:
                continue
            told += 1
            slopes = [track.at(s)[1] for s in np.linspace(low, low + width, 7)]
            assert bounds[0] - 1e-9 <= min(slopes)
            assert max(slopes) <= bounds[1] + 1e-9
            if width < 1.0:
                assert (
                    bounds[1] - bounds[0] < 0.12
                )  # a step of curvature lies in between at the most
    assert told > 20


def test_along_a_line_the_slope_is_known_to_rounding() -> None:
    assert GapTrack(LANE, LANE, 3.0, 1.5).slopes(5.0, 55.0) == pytest.approx((1.0, 1.0), abs=1e-12)


def test_where_the_path_turns_back_nothing_is_told() -> None:
    loop = CurvePath([(100.0, 0.0, 0.0), (math.pi * 30.0, 1 / 30, 1 / 30), (100.0, 0.0, 0.0)])
    assert (
        GapTrack(CurvePath([*loop_parts(loop), (1.0, 0.1, 0.1)]), loop, 3.0, 1.5).slopes(1.0, 2.0)
        is None
    )


def loop_parts(path: CurvePath) -> list[tuple[float, float, float]]:
    """The stretches of a path as they were given."""
    return [(end - start, k0, k1) for start, end, k0, k1 in path.stretches()]


@pytest.mark.parametrize(
    ("low", "high"), [(-0.3, 0.4), (1.2, 2.0), (4.0, 5.5), (-9.0, -8.0), (0.0, 7.0)]
)
def test_sine_and_cosine_of_bounds_hold_all_values(low: float, high: float) -> None:
    angles = np.linspace(low, high, 1001)
    for bounds, values in (
        (Bounds(low, high).sin, np.sin(angles)),
        (Bounds(low, high).cos, np.cos(angles)),
    ):
        assert (bounds.low, bounds.high) == pytest.approx((values.min(), values.max()), abs=1e-5)
        assert bounds.low <= values.min() + 1e-12
        assert values.max() - 1e-12 <= bounds.high
