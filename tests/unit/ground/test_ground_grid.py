"""Eastings and northings of grids."""

import math

import pytest

from choreo.ground.earth import Earth
from choreo.ground.grid import Grid
from choreo.scenario import AnchorSpec
from choreo.words import ChoreoError, Origin

HERE = Origin("site.yaml", 4, 1)
GRS80_A_M, GRS80_F = 6378137.0, 1 / 298.257222101
ETRS89 = "EPSG:4258"


def anchor(
    longitude_deg: float = 8.5,
    latitude_deg: float = 50.1,
    height_m: float = 0.0,
    datum: str = ETRS89,
) -> AnchorSpec:
    return AnchorSpec(longitude_deg, latitude_deg, 75.0, height_m, datum, HERE)


def utm(longitude_deg: float, latitude_deg: float, middle_deg: float) -> tuple[float, float]:
    """Easting and northing in m on GRS 80 by Krueger's series to the fourth order in n.

    L. Krueger, Konforme Abbildung des Erdellipsoids in der Ebene, 1912, as in C. F. F. Karney, Transverse
    Mercator with an accuracy of a few nanometers, J. Geodesy 85 (2011), equations 7 to 14 and 35.
    """
    n = GRS80_F / (2 - GRS80_F)
    e = math.sqrt(GRS80_F * (2 - GRS80_F))
    alpha = (
        n / 2 - 2 * n**2 / 3 + 5 * n**3 / 16 + 41 * n**4 / 180,
        13 * n**2 / 48 - 3 * n**3 / 5 + 557 * n**4 / 1440,
        61 * n**3 / 240 - 103 * n**4 / 140,
        49561 * n**4 / 161280,
    )
    radius_m = GRS80_A_M / (1 + n) * (1 + n**2 / 4 + n**4 / 64)
    latitude, longitude = math.radians(latitude_deg), math.radians(longitude_deg - middle_deg)
    sine = math.sin(latitude)
    tau = math.sinh(math.atanh(sine) - e * math.atanh(e * sine))
    xi = math.atan2(tau, math.cos(longitude))
    eta = math.asinh(math.sin(longitude) / math.hypot(tau, math.cos(longitude)))
    east, north = eta, xi
    for j, a in enumerate(alpha, 1):
        east += a * math.cos(2 * j * xi) * math.sinh(2 * j * eta)
        north += a * math.sin(2 * j * xi) * math.cosh(2 * j * eta)
    return 500_000 + 0.9996 * radius_m * east, 0.9996 * radius_m * north


@pytest.mark.parametrize(
    ("code", "longitude_deg", "latitude_deg", "middle_deg"),
    [
        ("EPSG:25832", 8.5, 50.1, 9),
        ("25832", 6.5, 54.9, 9),
        ("epsg: 25832", 11.9, 70.0, 9),
        ("25833", 12.5, 45.0, 15),
    ],
)
def test_utm_agrees_with_kruegers_series_to_a_tenth_of_a_millimetre(
    code: str, longitude_deg: float, latitude_deg: float, middle_deg: float
) -> None:
    here = anchor(longitude_deg, latitude_deg)
    x_m, y_m = [0.0, 700.0, -900.0], [0.0, -30.0, 450.0]
    eastings, northings = Grid(code, here).to_grid(x_m, y_m)
    longitudes, latitudes = Earth(here).to_earth(x_m, y_m)
    for index in range(3):
        wanted = utm(float(longitudes[index]), float(latitudes[index]), middle_deg)
        assert (eastings[index], northings[index]) == pytest.approx(wanted, abs=1e-4)


def test_grid_tells_its_scale_and_convergence() -> None:
    grid = Grid("EPSG:25832", anchor(height_m=100.0))
    here, there = utm(8.5, 50.1, 9), utm(8.5, 50.1005, 9)
    # Where the meridian leads in the grid is what grid north is turned against.
    turn_deg = math.degrees(math.atan2(there[0] - here[0], there[1] - here[1]))
    assert grid.convergence_deg == pytest.approx(-turn_deg, abs=1e-3)
    eastings, northings = grid.to_grid([0.0, 10.0], [0.0, 0.0])
    apart_m = math.hypot(eastings[1] - eastings[0], northings[1] - northings[0])
    assert grid.grid_ratio == pytest.approx(apart_m / 10.0, abs=1e-6)
    assert grid.grid_ratio < grid.scale_ratio < 1


def test_grid_on_the_anchors_datum_has_no_error_and_others_tell_theirs() -> None:
    assert Grid("25832", anchor()).accuracy_m == 0
    assert Grid("25832", anchor(datum="EPSG:4326")).accuracy_m == 1.0
    british = Grid("27700", anchor(-1.5, 52.0, datum="EPSG:4326"))
    assert british.accuracy_m is not None
    assert british.accuracy_m > 1
    assert not british.best_way


def test_grid_that_counts_north_first_still_gives_its_easting_first() -> None:
    grid = Grid("31467", anchor())
    easting, northing = grid.to_grid(0.0, 0.0)
    assert grid.axes == ("Easting", "Northing")
    assert (3.4e6 < easting < 3.5e6, 5.5e6 < northing < 5.6e6) == (True, True)


def test_grid_in_feet_says_so() -> None:
    grid = Grid("2263", anchor(-74.0, 40.7, datum="EPSG:4269"))
    assert grid.unit == "US_survey_foot"
    easting, _ = grid.to_grid([0.0, 0.3048006096], [0.0, 0.0])
    bearing_rad = math.radians(75.0)
    assert easting[1] - easting[0] == pytest.approx(math.sin(bearing_rad), abs=1e-3)


@pytest.mark.parametrize(
    ("code", "longitude_deg", "told"),
    [
        ("utm32", 8.5, "is not an EPSG code"),
        ("999999", 8.5, "is not known"),
        ("4326", 8.5, "is no projected system"),
        ("5555", 8.5, "is no projected system"),
        ("25833", 8.5, "the anchor lies outside"),
        ("25832", 20.0, "the anchor lies outside"),
        ("2048", 8.5, "not east and north"),
        ("3857", 8.5, "56 % wrong"),
    ],
)
def test_grid_that_cannot_be_used_is_told(code: str, longitude_deg: float, told: str) -> None:
    with pytest.raises(ChoreoError) as caught:
        Grid(code, anchor(longitude_deg))
    (finding,) = caught.value.findings
    assert finding.code == "site.unknown-grid"
    assert told in finding.text
    assert finding.advice


@pytest.mark.parametrize(("longitude_deg", "latitude_deg"), [(180.0, 50.0), (7.5, 90.0)])
def test_anchor_far_outside_a_grid_is_told_to_be_outside_even_where_no_way_leads(
    longitude_deg: float, latitude_deg: float
) -> None:
    with pytest.raises(ChoreoError) as caught:
        Grid("25832", anchor(longitude_deg, latitude_deg, datum="EPSG:4326"))
    (finding,) = caught.value.findings
    assert "the anchor lies outside" in finding.text


def test_grid_over_the_date_line_takes_anchors_on_both_sides() -> None:
    east = Grid("3460", anchor(179.9, -17.0, datum="EPSG:4326"))
    west = Grid("3460", anchor(-179.9, -17.0, datum="EPSG:4326"))
    assert float(west.to_grid(0.0, 0.0)[0]) > float(east.to_grid(0.0, 0.0)[0])
