"""Surveyed paths against another library's spline and arc lengths by brute force; long surveys take little memory."""

from __future__ import annotations

import tracemalloc
from types import SimpleNamespace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from choreo.geometry import build_paths, lap_of
from choreo.geometry.curvature import curvature_bounds
from choreo.geometry.parallel import ParallelPath
from choreo.geometry.surveyed import SurveyedPath
from choreo.words import ChoreoError
from tests.unit.geometry.made import beside, built, surveyed

Points = NDArray[np.float64]

# Each segment is cut into so many parts, each with so many Gauss nodes: far finer than the path's own cells.
PARTS, NODES = 40, 12


def _winding(step_m: float, count: int) -> Points:
    x = step_m * np.arange(count)
    return np.stack((x, 20.0 * np.sin(x / 150.0)), axis=1)


def _circle(radius_m: float, step_rad: float) -> Points:
    angle = step_rad * np.arange(60)
    return radius_m * np.stack((np.cos(angle), np.sin(angle)), axis=1)


def _rough(step_m: float, noise_m: float) -> Points:
    return _winding(step_m, 120) + np.random.default_rng(7).normal(0.0, noise_m, (120, 2))


def _uneven() -> Points:
    x = np.cumsum(np.random.default_rng(11).choice([0.1, 1.0, 10.0], 80))
    return np.stack((x, 3.0 * np.sin(x / 15.0)), axis=1)


SURVEYS = {
    "a point a metre": _winding(1.0, 150),
    "a point each five metres": _winding(5.0, 80),
    "five centimetres apart": _winding(0.05, 200),
    "five centimetres apart, a millimetre rough": _rough(0.05, 0.001),
    "tight circle": _circle(10.0, 0.1),
    "circle of a metre": _circle(1.0, 0.8),
    "uneven": _uneven(),
}


@pytest.mark.parametrize("name", SURVEYS)
def test_survey_is_the_spline_by_arc_length(name: str) -> None:
    points = SURVEYS[name]
    t = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))))
    spline = CubicSpline(t, points)
    shares = np.arange(PARTS) / PARTS
    knots = np.append((t[:-1, None] + np.diff(t)[:, None] * shares).ravel(), t[-1])
    nodes, weights = np.polynomial.legendre.leggauss(NODES)
    widths = np.diff(knots)
    at = knots[:-1, None] + widths[:, None] * (nodes + 1.0) / 2.0
    speed = np.hypot(*np.moveaxis(spline(at, 1), -1, 0))
    stations = np.concatenate(([0.0], np.cumsum(speed @ weights * widths / 2.0)))
    path = built(surveyed(points))
    poses = path.pose(stations)
    x, y = spline(knots).T
    assert path.length_m == pytest.approx(stations[-1], abs=1e-11)
    assert np.hypot(poses.x_m - x, poses.y_m - y).max() < 1e-11
    (dx, dy), (ddx, ddy) = spline(knots, 1).T, spline(knots, 2).T
    curvature = (dx * ddy - dy * ddx) / np.hypot(dx, dy) ** 3
    # The last station may lie past the end by rounding, on the straight beyond it.
    assert poses.curvature_per_m[:-1] == pytest.approx(curvature[:-1], abs=1e-9)


def _round(count: int) -> Points:
    """An ellipse of 60 m by 35 m, the first point once more at the end, half a centimetre off."""
    angle = 2.0 * np.pi * np.arange(count + 1) / count
    points = np.stack((60.0 * np.cos(angle), 35.0 * np.sin(angle)), axis=1)
    points[-1, 1] += 0.005
    return points


def _closed(points: Points, laps: tuple[str, ...] = ("lap",)) -> SimpleNamespace:
    spec = surveyed(points)
    spec.closed, spec.laps = True, laps
    return spec


@pytest.mark.parametrize("count", [6, 90])
def test_closed_survey_is_the_periodic_spline_round_and_round(count: int) -> None:
    points = _round(count)
    path = built(_closed(points, ("lap", "lap 2", "lap 3")))
    points[-1] = points[0]
    t = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))))
    spline = CubicSpline(t, points, bc_type="periodic")
    lap = lap_of(path)
    assert lap is not None
    assert path.marks == {
        name: pytest.approx((i * lap, (i + 1) * lap))
        for i, name in enumerate(("lap", "lap 2", "lap 3"))
    }
    (dx, dy), (ddx, ddy) = spline(0.0, 1), spline(0.0, 2)
    ends = path.pose(np.array([0.0, lap - 1e-9, lap, 3 * lap]))
    assert ends.curvature_per_m == pytest.approx(
        (dx * ddy - dy * ddx) / np.hypot(dx, dy) ** 3, abs=1e-7
    )
    assert np.diff(ends.heading_rad) == pytest.approx([2 * np.pi, 0.0, 4 * np.pi], abs=1e-7)
    assert ends.x_m == pytest.approx(60.0, abs=1e-6)


def test_survey_that_does_not_come_round_is_told() -> None:
    for points in (_round(90)[:-1], _round(3)):
        with pytest.raises(ChoreoError) as caught:
            built(_closed(points))
        assert {one.code for one in caught.value.findings} == {"geometry.loop-open"}


def test_beside_a_closed_survey_laps_have_their_names_too() -> None:
    specs = {"circuit": _closed(_round(90), ("lap", "lap 2")), "outer": beside("circuit", -3.5)}
    outer = build_paths(specs)["outer"]
    lap = lap_of(outer)
    assert outer.marks["lap 2"] == pytest.approx((lap, 2 * lap))


def test_survey_is_cut_no_finer_than_its_bends_ask_for() -> None:
    gentle, tight = built(surveyed(_winding(0.05, 200))), built(surveyed(_circle(1.0, 0.8)))
    assert len(gentle.stretches()) == 199
    assert len(tight.stretches()) == 8 * 59


def test_long_survey_and_a_path_beside_it_take_little_memory() -> None:
    specs = {"road": surveyed(_winding(1.0, 20_000)), "beside": beside("road", 3.0)}
    tracemalloc.start()
    paths = build_paths(specs)
    count = sum(len(path.stretches()) for path in paths.values())
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert count == 2 * 2 * 19_999
    # Tables laid at once took 115 kB a point: 2.3 GB.
    assert most < 60e6


def test_bounds_of_a_surveys_curvature_hold_and_are_close() -> None:
    """Beside it and backwards too, against thousands of samples."""
    rng = np.random.default_rng(1)
    off, wide = [], []
    for number in range(40):
        steps = rng.uniform(1.0, 10.0, 5), rng.normal(0.0, 1.0, 5)
        survey = SurveyedPath(np.cumsum(steps, axis=1).T)
        window = (0.3, survey.length_m - 0.2)
        beside = ParallelPath(survey, 0.5, window, is_reversed=number % 2 == 0)
        for path in (survey, beside):
            low = float(rng.uniform(0.0, path.length_m))
            high = min(low + float(rng.uniform(0.0, 0.3 if number % 3 else 20.0)), path.length_m)
            bounds = curvature_bounds(path, low, high)
            assert bounds is not None
            samples = path.pose(np.linspace(low, high, 2001)).curvature_per_m
            off.append(max(bounds[0] - samples.min(), samples.max() - bounds[1]))
            wide.append(
                (bounds[1] - bounds[0] - np.ptp(samples)) / max(np.abs(samples).max(), 1e-3)
            )
    assert max(off) < 1e-12
    assert float(np.median(wide)) < 0.01
