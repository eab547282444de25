"""Tight stretches of a path: found by many looks at once, however many points it was surveyed at."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from choreo.geometry import CurvePath
from choreo.linear.cornering import tight_stretches
from tests.unit.geometry.made import built, surveyed


def test_survey_of_thousands_of_points_is_looked_at_in_a_few_goes() -> None:
    x = np.arange(3000.0)
    road = built(surveyed(np.stack((x, 20.0 * np.sin(x / 150.0)), axis=1)))
    goes = 0

    def allowed(stations: np.ndarray) -> np.ndarray:
        nonlocal goes
        goes += 1
        return np.sqrt(2.0 / np.maximum(np.abs(road.pose(stations).curvature_per_m), 1e-9))

    found = tight_stretches(road, allowed, 49.0, (0.0, road.length_m))
    ends = [end for tight in found for end in tight.ends]
    assert goes < 10
    # Round each top of the wave, 150 pi apart: 49 m/s asks for a radius of 1200.5 m, the top has 1125.
    assert len(ends) == 2 * 6
    tops = [(a + b) / 2 for a, b in zip(ends[::2], ends[1::2], strict=True)]
    along = [road.nearest(150.0 * np.pi * (n + 0.5), 20.0 * (-1) ** n) for n in range(6)]
    assert tops == pytest.approx(along, abs=0.1)


@pytest.mark.parametrize(
    "bends", [(-1 / 50, 1 / 25), (-1 / 50, 0.0, 1 / 25)], ids=["one clothoid", "two"]
)
def test_an_s_is_quick_where_it_goes_straight(bends: tuple[float, ...]) -> None:
    """Otherwise a plan whose peak of speed is just there would be proven impossible."""
    road = CurvePath([(150.0, *ends) for ends in pairwise(bends)])

    def allowed(stations: np.ndarray) -> np.ndarray:
        return np.sqrt(2.0 / np.maximum(np.abs(road.pose(stations).curvature_per_m), 1e-9))

    tights = list(tight_stretches(road, allowed, 35.0, (0.0, road.length_m)))
    assert len(tights) == 2
    # 50 m of 150 m, a third of the way from 1/50 to 1/25; or where the two meet.
    straight_m = 50.0 if len(bends) == 2 else 150.0
    assert tights[0].ends[1] < straight_m < tights[1].ends[0]
