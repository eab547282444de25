"""What a pose means on the ground: marks, names of edges, bearings, places on earth."""

from __future__ import annotations

import math
from collections.abc import Mapping

import shapely
from shapely.geometry.base import BaseGeometry

from choreo.fit.directions import COMPASS, sector_words
from choreo.fit.location import NOWHERE, Request, Spot, area_at
from choreo.fit.rectangle import Box
from choreo.fit.rigid import Rigid
from choreo.fit.short import Missing
from choreo.ground import Area, Earth, Ground
from choreo.placement.record import FoundPlace, LeastRoom, PlacedMark, Pose, Ring, Shortfall
from choreo.plans.record import Plan
from choreo.room.keep_out import polygons_of

# What lies this near (m) to a place on the edge is what makes the edge there.
AT_EDGE_M = 1e-6


class Describer:
    """Turns poses into what is told of them, for one plan on one site."""

    def __init__(
        self,
        ground: Ground,
        plan: Plan,
        request: Request,
        encounters: Mapping[str, tuple[float, float]],
    ) -> None:
        self.ground = ground
        self.plan = plan
        self.request = request
        self.encounters = encounters
        self.earth = None if ground.anchor is None else Earth(ground.anchor)

    @property
    def datum(self) -> str | None:
        """What longitudes and latitudes are of."""
        return None if self.ground.anchor is None else self.ground.anchor.datum

    def place(self, spot: Spot) -> FoundPlace:
        """Give a spot with everything that a crew needs to know of it."""
        starts = {
            name: self._mark(spot.pose, mover.start.x_m, mover.start.y_m, mover.start.heading_deg)
            for name, mover in self.plan.movers.items()
        }
        encounters = {
            name: self._mark(spot.pose, *place, None) for name, place in self.encounters.items()
        }
        heading_rad = spot.pose.angle_rad + self.request.heading_rad
        return FoundPlace(
            pose=pose_record(spot.pose),
            margin_m=spot.margin_m,
            area=spot.area,
            direction=sector_words(spot.sector, self.request.x_bearing_rad),
            heading_deg=_degrees(heading_rad),
            bearing_deg=None if self.earth is None else float(self.earth.bearing_deg(heading_rad)),
            starts=starts,
            encounters=encounters,
            least_room=least_room(self.ground, spot.pose.geometry(self.request.footprint)),
            at_start=not self.plan.encounters,
        )

    def polygons(self, spot: Spot) -> tuple[tuple[Ring, ...], ...]:
        """Give the footprint at a spot as polygons, each as rings in m, the outer one first."""
        return polygons_of(spot.pose.geometry(self.request.footprint))

    def _mark(self, pose: Rigid, x_m: float, y_m: float, heading_deg: float | None) -> PlacedMark:
        x, y = pose.point(x_m, y_m)
        heading_rad = None if heading_deg is None else math.radians(heading_deg) + pose.angle_rad
        heading = None if heading_rad is None else _degrees(heading_rad)
        if self.earth is None:
            return PlacedMark(x, y, heading)
        bearing = None if heading_rad is None else float(self.earth.bearing_deg(heading_rad))
        longitude, latitude = (float(one) for one in self.earth.to_earth(x, y))
        return PlacedMark(x, y, heading, bearing, longitude, latitude)

    @staticmethod
    def shortfall(
        ground: Ground,
        request: Request,
        missing: Missing,
        box: Box,
        longest_m: float | None,
        without_m: float | None,
    ) -> Shortfall:
        """Give what is missing in words and numbers."""
        return Shortfall(
            pose=pose_record(missing.pose),
            short_m=missing.short_m,
            what=_missing_words(ground, request, missing),
            x_m=missing.at_m[0],
            y_m=missing.at_m[1],
            length_m=box.length_m,
            width_m=box.width_m,
            longest_run_m=longest_m,
            without_exclusions_m=without_m,
        )


def pose_record(pose: Rigid) -> Pose:
    """Give a pose as it is told."""
    return Pose(pose.x_m, pose.y_m, _degrees(pose.angle_rad))


def least_room(ground: Ground, placed: BaseGeometry) -> LeastRoom:
    """Give the place on the edge of the drivable area that is nearest to a placed footprint."""
    line = shapely.shortest_line(ground.drivable.boundary, placed)
    x_m, y_m = (float(value) for value in shapely.get_coordinates(line)[0])
    return LeastRoom(x_m, y_m, edge_words(ground, x_m, y_m))


def edge_words(ground: Ground, x_m: float, y_m: float) -> str:
    """Name what makes the edge of the drivable area at a place."""
    place = shapely.Point(x_m, y_m)
    for name, obstacle in ground.obstacles.items():
        if obstacle.boundary.distance(place) <= AT_EDGE_M:
            return f"obstacle {name}"
    nearest = min(ground.areas, key=lambda area: float(area.polygon.boundary.distance(place)))
    return _hole_words(nearest, place) or f"the edge of {nearest.name}"


def _hole_words(area: Area, place: BaseGeometry) -> str:
    holes = [
        ring for part in shapely.get_parts(area.polygon) for ring in shapely.get_rings(part)[1:]
    ]
    for number, ring in enumerate(holes, 1):
        if ring.distance(place) <= AT_EDGE_M:
            return f"hole {number} of {area.name}" if len(holes) > 1 else f"the hole in {area.name}"
    return ""


def _missing_words(ground: Ground, request: Request, missing: Missing) -> str:
    """Tell where the footprint sticks out, or what reaches into it."""
    x_m, y_m = missing.at_m
    where = f"at x = {x_m:.1f} m, y = {y_m:.1f} m"
    if missing.away_rad is None:
        return f"{edge_words(ground, x_m, y_m)} {where} is in the way"
    line = shapely.shortest_line(ground.drivable.boundary, shapely.Point(x_m, y_m))
    edge = shapely.get_coordinates(line)[0]
    middle = missing.pose.point(*request.reference_m)
    area = area_at(request, *middle)
    of_area = "" if area == NOWHERE else f", seen from {area}"
    return (
        f"beyond {edge_words(ground, float(edge[0]), float(edge[1]))}, "
        f"{_towards(request, missing.away_rad)} {where}{of_area}"
    )


def _towards(request: Request, heading_rad: float) -> str:
    if request.x_bearing_rad is None:
        return f"in the heading {_degrees(heading_rad):.0f} deg"
    bearing = request.x_bearing_rad - heading_rad
    return f"to the {COMPASS[round(bearing / (math.pi / 4)) % 8]}"


def _degrees(angle_rad: float) -> float:
    """Within (-180, 180]."""
    degrees = math.degrees(math.remainder(angle_rad, 2 * math.pi))
    return 180.0 if degrees <= -180 else degrees + 0.0
