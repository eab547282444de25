"""The keep-out area as GeoJSON, for a map that everybody on the site can look at."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from choreo.ground.earth import Earth
from choreo.scenario import Ring

# A straight edge in longitude and latitude bends away from a straight line on the ground by
# length^2 tan(latitude) / (8 R): over 50 m less than half a millimetre up to 80 degrees.
LONGEST_EDGE_M = 50.0
# Nine digits of a degree are a tenth of a millimetre.
DIGITS = 9
ROUND_DEG = 360.0


def keep_out_geojson(
    polygons: Sequence[Sequence[Ring]], earth: Earth, properties: Mapping[str, Any]
) -> dict[str, Any]:
    """Give polygons (rings in site m, outer first) as a GeoJSON FeatureCollection with one feature.

    As RFC 7946 has it: longitude, latitude in WGS 84; rings closed, the outer one counter-clockwise, holes
    clockwise (section 3.1.6). Longitudes go on beyond 180 degrees where a polygon reaches over the date line:
    a map shows it whole then, although section 3.1.9 would rather have it cut.
    """
    coordinates = [
        [_ring(ring, earth, outer=index == 0) for index, ring in enumerate(rings)]
        for rings in polygons
    ]
    feature = {
        "type": "Feature",
        "properties": dict(properties),
        "geometry": {"type": "MultiPolygon", "coordinates": coordinates},
    }
    return {"type": "FeatureCollection", "features": [feature]}


def _ring(ring: Ring, earth: Earth, *, outer: bool) -> list[list[float]]:
    x_m, y_m = _dense(np.array(ring[:-1] if ring[0] == ring[-1] else ring)).T
    longitudes, latitudes = earth.to_wgs84(x_m, y_m)
    near = earth.anchor.longitude_deg
    longitudes = near + (longitudes - near + ROUND_DEG / 2) % ROUND_DEG - ROUND_DEG / 2
    positions = [
        [round(float(lon), DIGITS), round(float(lat), DIGITS)]
        for lon, lat in zip(longitudes, latitudes, strict=True)
    ]
    if (_turn(longitudes - near, latitudes - latitudes[0]) > 0) != outer:
        positions.reverse()
    return [*positions, positions[0]]


def _dense(corners: Any) -> Any:
    """Corners of a ring, shape (n, 2) in m, with points put in so that no edge is longer than LONGEST_EDGE_M."""
    dense = []
    for here, there in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        pieces = max(1, math.ceil(math.dist(here, there) / LONGEST_EDGE_M))
        shares = np.arange(pieces)[:, None] / pieces
        dense.append(here + shares * (there - here))
    return np.concatenate(dense)


def _turn(x: Any, y: Any) -> float:
    """Twice the signed area of a ring: above zero when it is counter-clockwise."""
    return float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
