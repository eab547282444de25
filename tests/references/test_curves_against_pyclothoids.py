"""The product's clothoids and bends against pyclothoids, an independent evaluation of Fresnel integrals."""

import math

import numpy as np
import pytest
from pyclothoids import Clothoid

from tests.references.scenario_texts import path_of

# Both evaluate the same integral to rounding; 0.1 micrometre leaves room for lengths of 500 m.
SAME_M = 1e-7


def _assert_same(text: str, parts: list[tuple[float, float, float]]) -> None:
    """Compare along a path: parts are (length, start curvature, end curvature), chained by pyclothoids."""
    path = path_of(text)
    assert path.length_m == pytest.approx(sum(length for length, _, _ in parts), abs=SAME_M)
    x, y, heading, begin = 0.0, 0.0, 0.0, 0.0
    for length, before, after in parts:
        rate = (after - before) / length
        curve = Clothoid.StandardParams(x, y, heading, before, rate, length)
        for along in np.linspace(0.0, length, 23):
            pose = path.pose(np.array([begin + along]))
            assert (pose.x_m[0], pose.y_m[0]) == pytest.approx(
                (curve.X(along), curve.Y(along)), abs=SAME_M
            )
            assert pose.heading_rad[0] == pytest.approx(curve.Theta(along), abs=1e-9)
        x, y, heading, begin = curve.XEnd, curve.YEnd, curve.ThetaEnd, begin + length


@pytest.mark.parametrize(
    ("length_m", "start_m", "end_m"),
    [
        (20.0, math.inf, 50.0),
        (35.0, math.inf, -12.0),
        (40.0, 100.0, math.inf),
        (60.0, 40.0, -25.0),
        (500.0, math.inf, 80.0),
        (0.5, math.inf, 3.0),
    ],
)
def test_clothoid_runs_where_pyclothoids_runs(
    length_m: float, start_m: float, end_m: float
) -> None:
    def radius(r_m: float) -> str:
        return "straight" if math.isinf(r_m) else f"{r_m} m"

    _assert_same(
        f"{{clothoid: {{length: {length_m} m, from: {radius(start_m)}, to: {radius(end_m)}}}}}",
        [(length_m, 1 / start_m, 1 / end_m)],
    )


@pytest.mark.parametrize(
    ("radius_m", "clothoid_deg", "arc_deg", "outer_m", "side"),
    [
        (9.00, 20.62, 48.75, 1500.0, 1),
        (14.75, 21.79, 46.42, 1500.0, -1),
        (50.0, 10.0, 15.0, math.inf, 1),
        (120.0, 30.0, 5.0, math.inf, -1),
    ],
)
def test_bend_runs_where_pyclothoids_runs(
    radius_m: float, clothoid_deg: float, arc_deg: float, outer_m: float, side: int
) -> None:
    outer = "" if math.isinf(outer_m) else f", outer radius: {outer_m} m"
    clothoid_m = 2 * math.radians(clothoid_deg) / (1 / outer_m + 1 / radius_m)
    tight, wide = side / radius_m, side / outer_m
    _assert_same(
        f"{{bend: {{radius: {radius_m} m, clothoid angle: {clothoid_deg} deg, "
        f"arc angle: {side * arc_deg} deg{outer}}}}}",
        [
            (clothoid_m, wide, tight),
            (math.radians(arc_deg) * radius_m, tight, tight),
            (clothoid_m, tight, wide),
        ],
    )


@pytest.mark.parametrize("keys", ["length: 60 m", "path length: 44 m, radius: 130 m"])
def test_shift_runs_where_pyclothoids_runs_along_its_stretches(keys: str) -> None:
    # The shape of a shift is the product's own choice; that its pieces are clothoids end to end is not.
    text = f"{{shift: {{offset: 3.5 m, {keys}}}}}"
    stretches = path_of(text).stretches()
    _assert_same(text, [(end - begin, before, after) for begin, end, before, after in stretches])
