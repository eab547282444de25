"""How what is swept lies in the drivable area."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from choreo.ground import Ground
from choreo.plans.room_record import SiteFit

# An obstacle this near (m) to the place of the least room is what stands there.
AT_OBSTACLE_M = 1e-6
LEAST_OUTSIDE_M2 = 1e-6
# How finely the deepest place of what lies outside is looked for (m).
DEPTH_M = 0.01


def fit_on_site(ground: Ground, area: BaseGeometry) -> SiteFit:
    """Give how far a swept area (errors included) stays inside the drivable area, or how far it leaves it."""
    outside = area.difference(ground.drivable)
    if outside.area > LEAST_OUTSIDE_M2:
        corners = shapely.points(shapely.get_coordinates(outside))
        # What lies wholly in the footprint has its corners on the edge: the deepest places inside count too.
        parts = [part for part in shapely.get_parts(outside) if part.area > LEAST_OUTSIDE_M2]
        inner = [shapely.maximum_inscribed_circle(part, DEPTH_M) for part in parts]
        places = np.concatenate((corners, [shapely.get_point(one, 0) for one in inner]))
        ways = shapely.distance(places, ground.drivable)
        worst = places[int(ways.argmax())]
        least = -float(ways.max())
        outside_m2 = float(outside.area)
    else:
        line = shapely.shortest_line(ground.drivable.boundary, area)
        worst = shapely.points(shapely.get_coordinates(line)[0])
        least, outside_m2 = float(line.length), 0.0
    return SiteFit(
        ground.title, least, float(worst.x), float(worst.y), _edge(ground, worst), outside_m2
    )


def _edge(ground: Ground, place: BaseGeometry) -> str:
    for name, obstacle in ground.obstacles.items():
        if obstacle.distance(place) <= AT_OBSTACLE_M:
            return name
    nearest = min(ground.areas, key=lambda one: one.polygon.boundary.distance(place))
    return f"the edge of {nearest.name}"
