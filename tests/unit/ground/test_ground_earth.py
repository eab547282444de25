"""The way between the site frame and earth."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from choreo.ground import Earth
from choreo.scenario import AnchorSpec
from choreo.words import ChoreoError, Origin

HERE = Origin("site.yaml", 4, 1)
WGS84_A_M, WGS84_F = 6378137.0, 1 / 298.257223563


def anchor(
    longitude_deg: float = 8.0,
    latitude_deg: float = 54.0,
    bearing_deg: float = 90.0,
    height_m: float = 0.0,
    datum: str = "EPSG:4326",
) -> AnchorSpec:
    return AnchorSpec(longitude_deg, latitude_deg, bearing_deg, height_m, datum, HERE)


@given(
    st.floats(-180, 180),
    st.floats(-80, 80),
    st.floats(0, 360),
    st.floats(-500, 9000),
    st.lists(st.tuples(st.floats(-5000, 5000), st.floats(-5000, 5000)), min_size=1, max_size=5),
)
def test_there_and_back_is_the_same_place(
    longitude_deg: float,
    latitude_deg: float,
    bearing_deg: float,
    height_m: float,
    places: list[tuple[float, float]],
) -> None:
    earth = Earth(anchor(longitude_deg, latitude_deg, bearing_deg, height_m))
    x_m, y_m = np.array(places).T
    longitudes, latitudes = earth.to_earth(x_m, y_m)
    back_x_m, back_y_m = earth.to_site(longitudes, latitudes)
    assert np.abs(back_x_m - x_m).max() < 1e-6
    assert np.abs(back_y_m - y_m).max() < 1e-6
    assert np.abs(longitudes).max() <= 180


@pytest.mark.parametrize("datum", ["EPSG:4326", "EPSG:4258", "4267"])
def test_way_through_wgs84_comes_back(datum: str) -> None:
    earth = Earth(
        anchor(-90.0, 40.0, 70.0, datum=datum) if datum == "4267" else anchor(datum=datum)
    )
    longitudes, latitudes = earth.to_wgs84([100.0, -900.0], [5.0, 40.0])
    x_m, y_m = earth.from_wgs84(longitudes, latitudes)
    assert x_m == pytest.approx([100.0, -900.0], abs=1e-3)
    assert y_m == pytest.approx([5.0, 40.0], abs=1e-3)


def test_accuracy_of_the_way_to_wgs84_is_none_for_wgs84_and_told_for_others() -> None:
    assert Earth(anchor()).wgs84_accuracy_m == 0
    assert Earth(anchor(datum="EPSG:4258")).wgs84_accuracy_m == 1.0


def cartesian(longitude_deg: float, latitude_deg: float, height_m: float) -> np.ndarray:
    """Earth-centred coordinates in m, by the definition of geodetic latitude and height."""
    longitude, latitude = math.radians(longitude_deg), math.radians(latitude_deg)
    es = WGS84_F * (2 - WGS84_F)
    normal_m = WGS84_A_M / math.sqrt(1 - es * math.sin(latitude) ** 2)
    out_m = (normal_m + height_m) * math.cos(latitude)
    up_m = (normal_m * (1 - es) + height_m) * math.sin(latitude)
    return np.array([out_m * math.cos(longitude), out_m * math.sin(longitude), up_m])


@pytest.mark.parametrize("height_m", [0.0, 700.0, 4000.0])
@pytest.mark.parametrize("latitude_deg", [-33.0, 0.0, 54.0, 79.0])
def test_ground_metres_at_a_height_are_metres_in_space(
    height_m: float, latitude_deg: float
) -> None:
    """Chords between points of the ground, seen from its anchor, against the site frame, without any geodesic."""
    earth = Earth(anchor(8.0, latitude_deg, 60.0, height_m))
    origin = cartesian(8.0, latitude_deg, height_m)
    longitude, latitude = math.radians(8.0), math.radians(latitude_deg)
    east = np.array([-math.sin(longitude), math.cos(longitude), 0.0])
    up = np.array(
        [
            math.cos(latitude) * math.cos(longitude),
            math.cos(latitude) * math.sin(longitude),
            math.sin(latitude),
        ]
    )
    north = np.cross(up, east)
    for x_m, y_m in ((1000.0, 0.0), (0.0, 800.0), (-600.0, 700.0)):
        there_deg = earth.to_earth(x_m, y_m)
        away = cartesian(float(there_deg[0]), float(there_deg[1]), height_m) - origin
        # 1 km of arc is 1.0 micrometre longer than its chord; the curvatures along and across the
        # meridian differ by 0.7 %, of 4 km height over 6378 km that is 4e-6 of a length.
        assert float(np.linalg.norm(away)) == pytest.approx(math.hypot(x_m, y_m), abs=4.5e-3)
        bearing_deg = math.degrees(math.atan2(float(away @ east), float(away @ north)))
        wanted_deg = 60.0 - math.degrees(math.atan2(y_m, x_m))
        assert (bearing_deg - wanted_deg + 180) % 360 - 180 == pytest.approx(0, abs=3e-4)


@pytest.mark.parametrize(
    ("bearing_deg", "heading_deg", "wanted_deg"),
    [(90, 0, 90), (90, 90, 0), (90, -90, 180), (90, 180, 270), (30, 45, 345), (0, 0, 0)],
)
def test_bearing_turns_clockwise_from_north(
    bearing_deg: float, heading_deg: float, wanted_deg: float
) -> None:
    earth = Earth(anchor(bearing_deg=bearing_deg))
    found_deg = float(earth.bearing_deg(math.radians(heading_deg)))
    assert (found_deg - wanted_deg + 180) % 360 - 180 == pytest.approx(0, abs=1e-9)
    assert 0 <= found_deg < 360
    turned = earth.heading_rad(found_deg) - math.radians(heading_deg)
    assert math.cos(float(turned)) == pytest.approx(1)


def test_x_axis_bearing_east_leads_east_and_y_north() -> None:
    longitudes, latitudes = Earth(anchor()).to_earth([100.0, 0.0], [0.0, 100.0])
    assert longitudes[0] > 8.0
    assert latitudes[0] == pytest.approx(54.0, abs=1e-8)
    assert latitudes[1] > 54.0
    assert longitudes[1] == pytest.approx(8.0, abs=1e-12)


def test_datum_without_tie_to_wgs84_at_its_place_is_told_where_one_is_needed() -> None:
    earth = Earth(anchor(150.0, -30.0, datum="EPSG:4258"))
    assert float(earth.to_earth(0.0, 0.0)[0]) == pytest.approx(150.0)
    with pytest.raises(ChoreoError) as caught:
        earth.to_wgs84(0.0, 0.0)
    assert [one.code for one in caught.value.findings] == ["site.unknown-datum"]


def test_site_at_the_date_line_reaches_over_it() -> None:
    earth = Earth(anchor(179.9999, -16.0))
    longitudes, latitudes = earth.to_earth([-500.0, 500.0], [0.0, 0.0])
    assert (longitudes[0] > 0, longitudes[1] < 0) == (True, True)
    x_m, _ = earth.to_site(longitudes, latitudes)
    assert x_m == pytest.approx([-500.0, 500.0], abs=1e-6)


@pytest.mark.parametrize("datum", ["WGS84", "EPSG:25832", "EPSG:4979", "EPSG:99999", "EPSG:-1", ""])
def test_datum_that_is_no_geographic_system_is_told(datum: str) -> None:
    with pytest.raises(ChoreoError) as caught:
        Earth(anchor(datum=datum))
    (finding,) = caught.value.findings
    assert (finding.code, finding.origin) == ("site.unknown-datum", HERE)
    assert "EPSG:4326" in finding.advice
