"""Site metres to longitude and latitude and back: along geodesics from the anchor.

A place of the site frame lies at its distance and bearing from the origin, measured on the ellipsoid (the
azimuthal equidistant projection; C. F. F. Karney, Algorithms for geodesics, J. Geodesy 87, 2013, section 8).
Distances and bearings from the origin are true. Across that direction, lengths at a distance d are wrong
by d^2 / (6 R^2) of themselves, R the radius of the earth: two places d from the origin and from each other are at
most d^3 / (6 R^2) farther apart in the site frame than on earth, 0.5 mm at 5 km.

The site frame's metres are metres of the ground. Ground that lies h above the ellipsoid is longer than the
ellipsoid below it by 1 + h / R, with the mean (Gaussian) radius of curvature at the anchor.
"""

from __future__ import annotations

import math
import warnings
from dataclasses import field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from choreo.scenario import AnchorSpec
from choreo.words import ChoreoError, Finding
from choreo.words.later import loaded_later
from choreo.words.records import dataclass

if TYPE_CHECKING:
    import pyproj
    import pyproj.aoi
    import pyproj.enums
    import pyproj.exceptions
    import pyproj.network
    import pyproj.transformer
else:
    # Only a site with an anchor needs it.
    pyproj = loaded_later("pyproj")

Floats = NDArray[np.float64]

# Longitude and latitude of GeoJSON are those of WGS 84 (RFC 7946, section 4).
WGS84 = "EPSG:4326"

# EPSG codes have four to six digits.
MOST_DIGITS = 6
# A way between datums must hold within this of the anchor, in degrees: 11 km of latitude, more than a site's half.
NEAR_DEG = 0.1


@dataclass(frozen=True, slots=True)
class Way:
    """From one system of coordinates to another, east before north in both.

    accuracy_m: 0 where both share a datum, None where it isn't known. best: False where a better way is known, but
    its file of corrections isn't installed.
    """

    name: str
    accuracy_m: float | None
    best: bool
    transformer: pyproj.Transformer

    def there(self, east: ArrayLike, north: ArrayLike) -> tuple[Floats, Floats]:
        """Give coordinates in the other system; of any one shape, in that system's units."""
        return self._go(east, north, pyproj.enums.TransformDirection.FORWARD)

    def back(self, east: ArrayLike, north: ArrayLike) -> tuple[Floats, Floats]:
        """Give coordinates in the first system of ones in the other, of any one shape."""
        return self._go(east, north, pyproj.enums.TransformDirection.INVERSE)

    def _go(
        self, east: ArrayLike, north: ArrayLike, direction: pyproj.enums.TransformDirection
    ) -> tuple[Floats, Floats]:
        there = self.transformer.transform(
            np.asarray(east, float), np.asarray(north, float), direction=direction
        )
        return np.asarray(there[0]), np.asarray(there[1])


@dataclass(frozen=True)
class Earth:
    """The way between the site frame and earth for one anchor.

    Raises ChoreoError: site.unknown-datum.
    """

    anchor: AnchorSpec
    datum_name: str = field(init=False)
    wgs84_accuracy_m: float | None = field(init=False)
    _geod: pyproj.Geod = field(init=False, repr=False)
    _ground_ratio: float = field(init=False, repr=False)
    _to_wgs84: Way | None = field(init=False, repr=False)

    def __post_init__(self) -> None:
        datum = datum_of(self.anchor)
        geod = datum.get_geod()
        if geod is None:
            raise _unknown_datum(self.anchor, "has no ellipsoid")
        radius_m = gaussian_radius_m(geod.a, geod.es, self.anchor.latitude_deg)
        to_wgs84 = way(datum, pyproj.CRS(WGS84), self.anchor)
        for name, value in (
            ("datum_name", datum.name),
            ("_geod", geod),
            ("_ground_ratio", 1 + self.anchor.height_m / radius_m),
            ("_to_wgs84", to_wgs84),
            ("wgs84_accuracy_m", None if to_wgs84 is None else to_wgs84.accuracy_m),
        ):
            object.__setattr__(self, name, value)

    def to_earth(self, x_m: ArrayLike, y_m: ArrayLike) -> tuple[Floats, Floats]:
        """Give longitudes (-180 to 180) and latitudes in degrees, in the anchor's datum, of site places (any shape)."""
        x, y = np.broadcast_arrays(np.asarray(x_m, float), np.asarray(y_m, float))
        distances_m = np.hypot(x, y) / self._ground_ratio
        azimuths_deg = self.bearing_deg(np.arctan2(y, x))
        shape = x.shape
        longitudes, latitudes, _ = self._geod.fwd(
            np.full(x.size, self.anchor.longitude_deg),
            np.full(x.size, self.anchor.latitude_deg),
            np.ravel(azimuths_deg),
            np.ravel(distances_m),
        )
        return np.reshape(longitudes, shape), np.reshape(latitudes, shape)

    def to_site(self, longitude_deg: ArrayLike, latitude_deg: ArrayLike) -> tuple[Floats, Floats]:
        """Give site places x, y in m of longitudes and latitudes (any shape) in degrees, in the anchor's datum."""
        longitude, latitude = np.broadcast_arrays(
            np.asarray(longitude_deg, float), np.asarray(latitude_deg, float)
        )
        azimuths_deg, _, distances_m = self._geod.inv(
            np.full(longitude.size, self.anchor.longitude_deg),
            np.full(longitude.size, self.anchor.latitude_deg),
            np.ravel(longitude),
            np.ravel(latitude),
        )
        headings_rad = np.radians(self.anchor.bearing_deg - np.asarray(azimuths_deg))
        lengths_m = np.asarray(distances_m) * self._ground_ratio
        x_m, y_m = lengths_m * np.cos(headings_rad), lengths_m * np.sin(headings_rad)
        return np.reshape(x_m, longitude.shape), np.reshape(y_m, longitude.shape)

    def to_wgs84(self, x_m: ArrayLike, y_m: ArrayLike) -> tuple[Floats, Floats]:
        """Give longitudes and latitudes in degrees in WGS 84, to wgs84_accuracy_m (None: not known); any shape.

        Raises ChoreoError: site.unknown-datum where none of the datum's ties to WGS 84 is for the anchor's place.
        """
        return self._tie().there(*self.to_earth(x_m, y_m))

    def from_wgs84(
        self, longitude_deg: ArrayLike, latitude_deg: ArrayLike
    ) -> tuple[Floats, Floats]:
        """Give site places x, y in m of WGS 84 longitudes and latitudes in degrees (any shape); raises as to_wgs84."""
        return self.to_site(*self._tie().back(longitude_deg, latitude_deg))

    def _tie(self) -> Way:
        if self._to_wgs84 is None:
            raise _unknown_datum(self.anchor, "has no known tie to WGS 84 at the anchor's place")
        return self._to_wgs84

    def bearing_deg(self, heading_rad: ArrayLike) -> Floats:
        """Give compass bearings (0 to 360 degrees, clockwise from north) of site headings (any shape) at the anchor.

        North is that of the anchor all over the site: meridians meet, and bearings by a compass or from a
        grid differ by some arc minutes over kilometres.
        """
        bearing = (self.anchor.bearing_deg - np.degrees(np.asarray(heading_rad, float))) % 360
        return np.asarray(np.where(bearing >= 360, 0.0, bearing))

    def heading_rad(self, bearing_deg: ArrayLike) -> Floats:
        """Give site headings (-pi to pi) of compass bearings (any shape) at the anchor."""
        turned = np.radians(self.anchor.bearing_deg - np.asarray(bearing_deg, float))
        return np.asarray(np.arctan2(np.sin(turned), np.cos(turned)))


def datum_of(anchor: AnchorSpec) -> pyproj.CRS:
    """Give the geographic system of an anchor's coordinates. Raises ChoreoError: site.unknown-datum."""
    code = epsg_code(anchor.datum)
    if code is None:
        raise _unknown_datum(anchor, "is not an EPSG code")
    try:
        system = pyproj.CRS.from_epsg(code)
    except pyproj.exceptions.CRSError:
        raise _unknown_datum(anchor, "is not known") from None
    if not system.is_geographic or len(system.axis_info) != 2:  # the third would be a height
        raise _unknown_datum(anchor, "is not a system of longitude and latitude")
    return system


def epsg_code(text: str) -> int | None:
    """Give the number of an EPSG code, like `EPSG:25832` or `25832`; None when it is none."""
    number = text.strip().upper().removeprefix("EPSG:").strip()
    plain = number.isascii() and number.isdigit() and len(number) <= MOST_DIGITS
    return int(number) if plain else None


def way(start: pyproj.CRS, end: pyproj.CRS, anchor: AnchorSpec) -> Way | None:
    """Give the most accurate way from one system to another near the anchor; None when there is none."""
    # Grids of corrections would be fetched otherwise: a plan must come out the same without a network.
    pyproj.network.set_network_enabled(False)  # type: ignore[attr-defined]
    longitude, latitude = anchor.longitude_deg, anchor.latitude_deg
    near = pyproj.aoi.AreaOfInterest(
        max(longitude - NEAR_DEG, -180.0),
        max(latitude - NEAR_DEG, -90.0),
        min(longitude + NEAR_DEG, 180.0),
        min(latitude + NEAR_DEG, 90.0),
    )
    with warnings.catch_warnings():
        # It warns of corrections that aren't installed; `best` says the same.
        warnings.simplefilter("ignore", UserWarning)
        group = pyproj.transformer.TransformerGroup(
            start,
            end,
            always_xy=True,
            area_of_interest=near,  # type: ignore[arg-type]
            allow_ballpark=False,
        )
    if not group.transformers:
        return None
    first = group.transformers[0]
    accuracy_m = first.accuracy if first.accuracy >= 0 else None
    return Way(first.description, accuracy_m, group.best_available, first)


def gaussian_radius_m(a_m: float, es: float, latitude_deg: float) -> float:
    """Give the mean radius of curvature sqrt(M N) of an ellipsoid (half axis, squared eccentricity)."""
    return a_m * math.sqrt(1 - es) / (1 - es * math.sin(math.radians(latitude_deg)) ** 2)


def _unknown_datum(anchor: AnchorSpec, why: str) -> ChoreoError:
    values = {"datum": anchor.datum, "why": why}
    return ChoreoError([Finding("site.unknown-datum", "error", anchor.origin, values)])
