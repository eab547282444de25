"""Sites and footprints made by hand, and a search by brute force."""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from choreo.fit.location import Request
from choreo.fit.rigid import Rigid

STRIP = box(-20, -30, 1000, 30)
L_PAD = Polygon([(0, 0), (300, 0), (300, 120), (120, 120), (120, 300), (0, 300)]).difference(
    box(40, 40, 60, 70)
)
# A lane with a belt across it.
CROSSING = shapely.union_all(
    [LineString([(0, 0), (150, 0)]).buffer(5), LineString([(120, -20), (120, 15)]).buffer(2)]
)


def request(footprint: BaseGeometry, site: BaseGeometry, **more: object) -> Request:
    """A footprint to be placed on a site of one area, `site`, its reference point in its middle."""
    middle = shapely.point_on_surface(footprint)
    values = {"reference_m": (middle.x, middle.y), **more}
    return Request(footprint, site, (("site", site),), **values)  # type: ignore[arg-type]


def random_site(draws: np.random.Generator) -> BaseGeometry:
    """A star-shaped polygon some 24 m wide, with an obstacle in it now and then."""
    angles = np.sort(draws.uniform(0, 2 * math.pi, 9))
    reach = draws.uniform(6, 14, 9)
    site = Polygon(np.stack((reach * np.cos(angles), reach * np.sin(angles)), axis=1)).buffer(0)
    x, y = draws.uniform(-6, 6, 2)
    return site.difference(box(x, y, x + 1.5, y + 1.0)) if draws.uniform() < 0.7 else site


def random_footprint(draws: np.random.Generator) -> BaseGeometry:
    """A small L-shaped sweep that does not begin at its frame's origin."""
    points = draws.uniform(-3, 3, (3, 2)) + draws.uniform(-20, 20, 2)
    return LineString(points).buffer(0.6, quad_segs=4)


def brute_force_m(
    footprint: BaseGeometry, site: BaseGeometry, step_m: float, step_deg: float
) -> float:
    """The largest exact margin over a grid of poses about the footprint's middle; -inf where none fits."""
    shapely.prepare(site)
    middle = shapely.get_coordinates(footprint.envelope.centroid)[0]
    corners = shapely.get_coordinates(footprint) - middle
    left, low, right, high = site.bounds
    x, y = np.meshgrid(np.arange(left, right, step_m), np.arange(low, high, step_m))
    places = np.stack((x.ravel(), y.ravel()), axis=1)
    best = -math.inf
    for angle in np.radians(np.arange(0, 360, step_deg)):
        turned = Rigid(0.0, 0.0, float(angle)).apply(corners)
        placed = shapely.polygons(turned[None, :, :] + places[:, None, :])
        inside = placed[shapely.covers(site, placed)]
        if len(inside):
            best = max(best, float(shapely.distance(site.boundary, inside).max()))
    return best
