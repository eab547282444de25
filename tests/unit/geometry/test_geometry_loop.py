"""Closed paths: round and round, beside them too, and told where they don't close."""

import math

import numpy as np
import pytest

from choreo.geometry import Path, build_paths, gap_track, lap_of
from choreo.words import ChoreoError
from tests.unit.geometry.made import CAR, TARGET, beside, built, chain, line, piece

HALF = (line(200.0, name="run"), piece("arc", radius_m=50.0, angle_rad=math.pi))
LAP_M = 2 * (200.0 + 50.0 * math.pi)


def closed(*pieces, **more):
    spec = chain(*pieces, **more)
    spec.closed = True
    return spec


def stadium(laps: int, end_m: float = 200.0):
    once = (line(200.0), HALF[1], line(end_m), HALF[1])
    return closed(*(once * laps), start=(3.0, 4.0), heading_rad=0.5)


def there(path: Path, station_m: float) -> tuple[float, ...]:
    at = path.pose(np.array([station_m]))
    cos, sin = math.cos(float(at.heading_rad[0])), math.sin(float(at.heading_rad[0]))
    return float(at.x_m[0]), float(at.y_m[0]), cos, sin, float(at.curvature_per_m[0])


def test_closed_path_goes_on_round_beyond_both_ends() -> None:
    loop = built(stadium(3))
    assert lap_of(loop) == pytest.approx(LAP_M, abs=1e-9)
    assert loop.length_m == pytest.approx(5 * LAP_M, abs=1e-9)
    for station in (-30.0, 10.0, 250.0, 5 * LAP_M + 20.0):
        wanted = pytest.approx(there(loop, station % LAP_M), abs=1e-9)
        assert there(loop, station) == wanted
        assert there(loop, station + 2 * LAP_M) == wanted
    turned = np.diff(loop.pose(np.array([10.0, 10.0 + LAP_M])).heading_rad)
    assert turned == pytest.approx([2 * math.pi], abs=1e-9)


def test_nearest_station_is_in_the_lap_that_is_meant() -> None:
    loop = built(stadium(2))
    for station in (1.0, 260.0, LAP_M - 0.5):
        x, y, *_ = there(loop, station)
        assert loop.nearest(x, y) == pytest.approx(station, abs=1e-9)
        near = loop.nearest(x, y, station + LAP_M + 5.0)
        assert near == pytest.approx(station + LAP_M, abs=1e-9)


def test_straight_on_from_the_lap_s_end_is_no_part_of_it() -> None:
    # The loop begins in the middle of a bend: straight on from there it would run through the infield.
    quarter = piece("arc", radius_m=50.0, angle_rad=math.pi / 2)
    loop = built(closed(quarter, line(100.0), HALF[1], line(100.0), quarter))
    x, y = 30.0, 20.0
    at = loop.pose(np.array([loop.nearest(x, y)]))
    looks = loop.pose(np.linspace(0.0, lap_of(loop) or 0.0, 5000))
    least = np.hypot(looks.x_m - x, looks.y_m - y).min()
    assert math.hypot(at.x_m[0] - x, at.y_m[0] - y) == pytest.approx(least, abs=1e-3)


@pytest.mark.parametrize("reverse", [False, True])
def test_path_beside_a_closed_one_is_closed(reverse: bool) -> None:
    paths = build_paths({"loop": stadium(2), "in": beside("loop", 3.5, reverse=reverse)})
    inner = paths["in"]
    lap = LAP_M - 2 * math.pi * 3.5
    assert lap_of(inner) == pytest.approx(lap, abs=1e-9)
    assert there(inner, 250.0 + lap) == pytest.approx(there(inner, 250.0), abs=1e-9)
    stretch = build_paths({"loop": stadium(2), "in": beside("loop", 3.5, end=900.0)})["in"]
    assert lap_of(stretch) is None


def test_names_of_laps_are_places_of_the_laps_as_written() -> None:
    once = (line(200.0, name="run"), HALF[1], line(200.0), HALF[1])
    spec = closed(*once, line(200.0, name="run 2"), *once[1:])
    paths = build_paths({"loop": spec, "out": beside("loop", -3.0)})
    assert paths["loop"].marks["run 2"] == pytest.approx((LAP_M, LAP_M + 200.0), abs=1e-9)
    out = LAP_M + 2 * math.pi * 3.0
    assert paths["out"].marks["run 2"] == pytest.approx((out, out + 200.0), abs=1e-9)


def test_gap_goes_on_round_with_the_one_ahead_in_its_lane_and_beside() -> None:
    paths = build_paths({"loop": stadium(3), "in": beside("loop", 3.5)})
    loop, inner = paths["loop"], paths["in"]
    own = gap_track(loop, CAR, loop, TARGET)
    next_to = gap_track(loop, CAR, inner, TARGET)
    for laps in range(3):
        assert own.at(100.0 + laps * LAP_M)[0] == pytest.approx(99.0 + laps * LAP_M, abs=1e-9)
        station = 100.0 + laps * (lap_of(inner) or 0.0)
        assert next_to.at(station)[0] == pytest.approx(99.0 + laps * LAP_M, abs=1e-9)


def test_end_off_its_beginning_by_more_than_a_centimetre_is_told() -> None:
    assert lap_of(built(stadium(1, 200.009))) is not None
    with pytest.raises(ChoreoError) as caught:
        built(stadium(1, 200.011))
    (finding,) = caught.value.findings
    assert finding.code == "geometry.loop-open"
    assert "0.011 m" in finding.text


def test_end_that_points_elsewhere_is_a_fault() -> None:
    almost = piece("arc", radius_m=0.5, angle_rad=2 * math.pi - 0.002)
    with pytest.raises(ChoreoError) as caught:
        built(closed(almost))
    assert "0.11 deg" in caught.value.findings[0].text


def test_bounds_of_a_gap_s_slope_hold_across_the_beginning_of_a_lap() -> None:
    loop = built(stadium(2))
    own = gap_track(loop, CAR, loop, TARGET)
    bounds = own.slopes(LAP_M - 3.0, LAP_M + 3.0)
    assert bounds is not None
    looks = [own.at(at)[1] for at in np.linspace(LAP_M - 3.0, LAP_M + 3.0, 61)]
    assert bounds[0] <= min(looks) < max(looks) <= bounds[1]
