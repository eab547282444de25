"""Places on earth against GeographicLib's own Python port of Karney's geodesics.

C. F. F. Karney, Algorithms for geodesics, J. Geodesy 87 (2013) 43-55; the ellipsoids are those of WGS 84 and
of ETRS89 (GRS 80).
"""

import math

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic

from choreo.ground import Earth
from choreo.scenario import AnchorSpec
from choreo.words import Origin

# A millimetre: what a crew can set a mark to.
MARK_M = 1e-3
REACH_M = 5000.0
GRS80 = Geodesic(6378137.0, 1 / 298.257222101)
ELLIPSOIDS = {"EPSG:4326": Geodesic.WGS84, "EPSG:4258": GRS80}


def anchors(count: int) -> list[AnchorSpec]:
    """Anchors all over the world up to 80 degrees of latitude, at no height, drawn from a fixed seed."""
    draw = np.random.default_rng(7)
    return [
        AnchorSpec(
            float(draw.uniform(-180, 180)),
            float(draw.uniform(-80, 80)),
            float(draw.uniform(0, 360)),
            0.0,
            list(ELLIPSOIDS)[index % 2],
            Origin("site.yaml", 1, 1),
        )
        for index in range(count)
    ]


def places(count: int) -> tuple[np.ndarray, np.ndarray]:
    """Site places up to 5 km from the origin, from a fixed seed."""
    draw = np.random.default_rng(11)
    distance_m, heading_rad = (
        draw.uniform(0, REACH_M, count),
        draw.uniform(-math.pi, math.pi, count),
    )
    return distance_m * np.cos(heading_rad), distance_m * np.sin(heading_rad)


@pytest.mark.parametrize("anchor", anchors(12), ids=lambda anchor: f"{anchor.latitude_deg:.0f}")
def test_place_lies_at_its_distance_and_bearing_from_the_anchor(anchor: AnchorSpec) -> None:
    earth, ellipsoid = Earth(anchor), ELLIPSOIDS[anchor.datum]
    x_m, y_m = places(25)
    longitudes, latitudes = earth.to_earth(x_m, y_m)
    assert len(x_m) >= 25
    for x, y, longitude, latitude in zip(x_m, y_m, longitudes, latitudes, strict=True):
        line = ellipsoid.Inverse(
            anchor.latitude_deg, anchor.longitude_deg, float(latitude), float(longitude)
        )
        distance_m = math.hypot(x, y)
        assert line["s12"] == pytest.approx(distance_m, abs=1e-6)
        bearing_deg = anchor.bearing_deg - math.degrees(math.atan2(y, x))
        turned_deg = (line["azi1"] - bearing_deg + 180) % 360 - 180
        assert math.radians(turned_deg) * distance_m == pytest.approx(0, abs=1e-6)


@pytest.mark.parametrize("anchor", anchors(12), ids=lambda anchor: f"{anchor.latitude_deg:.0f}")
def test_places_kilometres_from_the_anchor_are_as_far_apart_as_in_the_site_frame(
    anchor: AnchorSpec,
) -> None:
    earth, ellipsoid = Earth(anchor), ELLIPSOIDS[anchor.datum]
    x_m, y_m = places(40)
    longitudes, latitudes = earth.to_earth(x_m, y_m)
    compared = 0
    for one in range(0, 40, 2):
        apart_m = math.hypot(x_m[one] - x_m[one + 1], y_m[one] - y_m[one + 1])
        if apart_m > REACH_M:
            continue
        compared += 1
        line = ellipsoid.Inverse(
            float(latitudes[one]),
            float(longitudes[one]),
            float(latitudes[one + 1]),
            float(longitudes[one + 1]),
        )
        assert line["s12"] == pytest.approx(apart_m, abs=MARK_M)
    assert compared > 10


@pytest.mark.parametrize("anchor", anchors(8), ids=lambda anchor: f"{anchor.latitude_deg:.0f}")
def test_site_place_of_a_longitude_and_latitude_is_that_of_the_geodesic(anchor: AnchorSpec) -> None:
    earth, ellipsoid = Earth(anchor), ELLIPSOIDS[anchor.datum]
    for azimuth_deg in (0.0, 33.0, 90.0, 181.0, 275.0):
        there = ellipsoid.Direct(anchor.latitude_deg, anchor.longitude_deg, azimuth_deg, 4321.0)
        x_m, y_m = earth.to_site(there["lon2"], there["lat2"])
        heading_rad = math.radians(anchor.bearing_deg - azimuth_deg)
        assert float(x_m) == pytest.approx(4321.0 * math.cos(heading_rad), abs=1e-6)
        assert float(y_m) == pytest.approx(4321.0 * math.sin(heading_rad), abs=1e-6)


def test_error_across_the_direction_from_the_anchor_is_the_documented_one() -> None:
    """Two places 5 km from the anchor and from each other: d^3 / (6 R^2) too near by, at most."""
    anchor = AnchorSpec(9.0, 51.0, 90.0, 0.0, "EPSG:4326", Origin("site.yaml", 1, 1))
    half_rad = math.radians(30.0)
    x_m = np.full(2, REACH_M * math.cos(half_rad))
    y_m = REACH_M * math.sin(half_rad) * np.array([-1.0, 1.0])
    longitudes, latitudes = Earth(anchor).to_earth(x_m, y_m)
    line = Geodesic.WGS84.Inverse(
        float(latitudes[0]), float(longitudes[0]), float(latitudes[1]), float(longitudes[1])
    )
    wrong_m = REACH_M - line["s12"]
    assert 0 < wrong_m < REACH_M**3 / (6 * 6.37e6**2)
    assert wrong_m == pytest.approx(REACH_M**3 / (6 * 6.38e6**2), rel=0.3)
