"""A site's text -> its ground, with every fault of its geometry at once."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from typing import assert_never

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from choreo.ground.earth import Earth
from choreo.ground.record import Area, Ground
from choreo.ground.seams import SPECK_M2, united
from choreo.scenario import (
    AreaSpec,
    EarthPolygon,
    ObstacleSpec,
    Ring,
    Scenario,
    SiteSpec,
    SlopeSpec,
)
from choreo.words import ChoreoError, Finding, Origin
from choreo.words.kinds import GroundUse

# Where a polygon is invalid GEOS says in words only (`Self-intersection[3 4]`); shapely has no other access to it.
PLACE = re.compile(r"\[(\S+) (\S+)\]")
# Less ground than this, in m2, is the noise of crossing lines.
LEAST_AREA_M2 = SPECK_M2
# A corner of a hole this far outside the outline is still on it: both were rounded when written.
ON_OUTLINE_M = 1e-3
# Twice the largest proving grounds: what lies farther has longitude and latitude mixed up, or a wrong anchor.
MOST_REACH_KM = 20.0
LEAST_CORNERS = 3
# What messages call a polygon.
NOUNS: Mapping[GroundUse, str] = {"drivable": "area", "obstacle": "obstacle"}


def ground_of(scenario: Scenario) -> Ground | None:
    """Give the ground of a scenario's site; None when it has no site, or one that draws no ground.

    Raises ChoreoError as build_ground.
    """
    site = scenario.site
    return None if site is None or not site.drawn else build_ground(site)


def build_ground(site: SiteSpec) -> Ground:
    """Give the ground that a site draws.

    Raises ChoreoError with all of: site.outline-crosses, site.hole-outside, site.far-from-anchor,
    site.unknown-datum, site.no-anchor; site.no-area.
    """
    building = _Building(site)
    areas, obstacles = building.specs()
    made = [area for area in (building.area(spec) for spec in areas) if area is not None]
    blocked = {spec.name: building.polygon(spec.name, spec) for spec in obstacles}
    if building.findings:
        raise ChoreoError(building.findings)
    solid = {name: polygon for name, polygon in blocked.items() if polygon is not None}
    # Obstacles come after: what stands in a crack stays there.
    union = united([area.polygon for area in made])
    drivable = union.difference(shapely.union_all(list(solid.values())))
    if drivable.area <= LEAST_AREA_M2:
        why = "holes and obstacles cover all areas" if made else "the site has no area"
        origin = areas[0].origin if areas else Origin(site.file, 1, 1)
        raise ChoreoError([Finding("site.no-area", "error", origin, {"why": why})])
    shapely.prepare(drivable)
    return Ground(site.title, tuple(made), solid, drivable, site.anchor)


class _Building:
    def __init__(self, site: SiteSpec) -> None:
        self.site = site
        self.findings: list[Finding] = []

    def specs(self) -> tuple[list[AreaSpec], list[ObstacleSpec]]:
        """Areas and obstacles of the file and of its GeoJSON, all in the site frame."""
        areas, obstacles = list(self.site.areas), list(self.site.obstacles)
        earth = self._earth()
        for one in self.site.earth_polygons:
            rings_m = None if earth is None else self._near(one, earth)
            if earth is None or rings_m is None:
                continue
            match one.use:
                case "obstacle":
                    obstacles.append(ObstacleSpec(one.name, rings_m[0], one.origin))
                case "drivable":
                    uphill_rad = float(earth.heading_rad(one.uphill_bearing_deg))
                    slope = SlopeSpec(one.grade_ratio, uphill_rad)
                    areas.append(
                        AreaSpec(one.name, rings_m[0], rings_m[1:], one.friction, slope, one.origin)
                    )
                case _:
                    assert_never(one.use)
        return areas, obstacles

    def _earth(self) -> Earth | None:
        if self.site.anchor is None and not self.site.earth_polygons:
            return None
        if self.site.anchor is None:
            origin = self.site.earth_polygons[0].origin
            self.findings.append(Finding("site.no-anchor", "error", origin, {}))
            return None
        try:
            earth = Earth(self.site.anchor)
            if self.site.earth_polygons:
                earth.to_wgs84(0.0, 0.0)  # raises here once, not for each polygon
        except ChoreoError as error:
            self.findings += error.findings
            return None
        return earth

    def _near(self, one: EarthPolygon, earth: Earth) -> tuple[Ring, ...] | None:
        """A polygon's rings in the site frame; corners are joined by straight lines there."""
        rings: list[Ring] = []
        farthest_m = 0.0
        for ring in one.rings_deg:
            longitude, latitude = np.array(ring).T
            x_m, y_m = earth.from_wgs84(longitude, latitude)
            farthest_m = max(farthest_m, float(np.hypot(x_m, y_m).max()))
            rings.append(tuple(zip(x_m.tolist(), y_m.tolist(), strict=True)))
        if not farthest_m <= MOST_REACH_KM * 1000:
            self._fault(
                "site.far-from-anchor",
                one.origin,
                what=f"{NOUNS[one.use]} `{one.name}`",
                distance_km=farthest_m / 1000,
                most_km=MOST_REACH_KM,
            )
            return None
        return tuple(rings)

    def area(self, spec: AreaSpec) -> Area | None:
        """An area with its holes cut."""
        whole = self.polygon(spec.name, spec)
        holes: list[Polygon] = []
        for number, ring in enumerate(spec.holes_m, 1):
            what = f"hole no. {number} of area `{spec.name}`"
            hole = self._ring(ring, what, spec.origin)
            if hole is None or whole is None:
                continue
            holes.append(hole)
            if not whole.buffer(ON_OUTLINE_M).covers(hole):
                outside = not whole.intersects(hole)
                why = "lies outside it" if outside else "reaches beyond its outline"
                self._fault(
                    "site.hole-outside", spec.origin, number=number, area=spec.name, why=why
                )
        if whole is None:
            return None
        ground = whole.difference(shapely.union_all(holes)) if holes else whole
        parts = [one for one in shapely.get_parts(ground) if isinstance(one, Polygon)]
        polygon = parts[0] if len(parts) == 1 else MultiPolygon(parts)
        slope = spec.slope or SlopeSpec(0.0, 0.0)
        return Area(spec.name, polygon, spec.friction, slope.grade_ratio, slope.uphill_rad)

    def polygon(self, name: str, spec: AreaSpec | ObstacleSpec) -> Polygon | None:
        """The polygon inside an outline; None when it is none."""
        kind = "area" if isinstance(spec, AreaSpec) else "obstacle"
        return self._ring(spec.outline_m, f"{kind} `{name}`", spec.origin)

    def _ring(self, ring: Ring, what: str, origin: Origin) -> Polygon | None:
        corners = distinct(ring)
        why = ""
        if len(corners) < LEAST_CORNERS:
            why = f"it has {len(corners)} different corners, it needs at least three"
        else:
            polygon = Polygon(corners)
            if not polygon.is_valid:
                why = self._crossing(corners, polygon)
            elif polygon.area <= LEAST_AREA_M2:
                why = "it encloses no ground"
        if why:
            self._fault("site.outline-crosses", origin, what=what, why=why)
            return None
        return shapely.normalize(polygon)

    def _crossing(self, corners: Sequence[tuple[float, float]], polygon: Polygon) -> str:
        """Where an outline crosses itself; flat ones overlap themselves and have no place of their own."""
        x_m, y_m = np.array(corners).T
        if max(np.ptp(x_m), np.ptp(y_m)) < ON_OUTLINE_M or _flat(corners):
            return "it encloses no ground"
        match = PLACE.search(shapely.is_valid_reason(polygon))
        if match is None:
            return "it crosses or touches itself"
        x, y = (float(number) + 0.0 for number in match.groups())
        return f"it crosses or touches itself at x = {x:.3f} m, y = {y:.3f} m"

    def _fault(self, code: str, origin: Origin, **values: str | float) -> None:
        self.findings.append(Finding(code, "error", origin, values))


def distinct(ring: Ring) -> list[tuple[float, float]]:
    """A ring's corners without those that repeat the one before, and without a last that closes it."""
    corners = [one for index, one in enumerate(ring) if index == 0 or one != ring[index - 1]]
    return corners[:-1] if len(corners) > 1 and corners[0] == corners[-1] else corners


def _flat(corners: Sequence[tuple[float, float]]) -> bool:
    """Whether all corners lie on one line."""
    points = np.array(corners) - np.array(corners[0])
    far = points[int(np.argmax(np.hypot(*points.T)))]
    aside_m = np.abs(points @ np.array([-far[1], far[0]])) / math.hypot(*far)
    return bool(aside_m.max() < ON_OUTLINE_M)
