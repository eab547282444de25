"""A site as its file says it: areas, obstacles, slopes and where it lies on earth; frozen, in SI."""

from __future__ import annotations

from typing import Any

from choreo.scenario.records.plain_data import fields_of
from choreo.words import Origin
from choreo.words.kinds import GroundUse
from choreo.words.records import dataclass

Ring = tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class SlopeSpec:
    """Ground that rises by grade_ratio (m per m) in the direction uphill_rad of the site frame."""

    grade_ratio: float
    uphill_rad: float


@dataclass(frozen=True, slots=True)
class AreaSpec:
    """A drivable polygon with holes, site frame; friction is the peak braking coefficient, None: not given."""

    name: str
    outline_m: Ring
    holes_m: tuple[Ring, ...]
    friction: float | None
    slope: SlopeSpec | None
    origin: Origin


@dataclass(frozen=True, slots=True)
class ObstacleSpec:
    """A polygon that nothing may drive over, site frame."""

    name: str
    outline_m: Ring
    origin: Origin


@dataclass(frozen=True, slots=True)
class AnchorSpec:
    """Where the site frame's origin lies, and the compass bearing of its x axis.

    height_m: of the ground over the ellipsoid of the datum (a geographic EPSG code).
    """

    longitude_deg: float
    latitude_deg: float
    bearing_deg: float
    height_m: float
    datum: str
    origin: Origin


@dataclass(frozen=True, slots=True)
class EarthPolygon:
    """A polygon in longitude and latitude, from GeoJSON: first ring outside, the others holes; rings not closed.

    uphill_bearing_deg: compass bearing in which the ground rises.
    """

    name: str
    use: GroundUse
    rings_deg: tuple[Ring, ...]
    friction: float | None
    grade_ratio: float
    uphill_bearing_deg: float
    origin: Origin


@dataclass(frozen=True, slots=True)
class SiteSpec:
    """What a site file says of the ground.

    file: its path as opened, for messages; source_files: it and all that it names.
    """

    title: str
    file: str
    areas: tuple[AreaSpec, ...] = ()
    obstacles: tuple[ObstacleSpec, ...] = ()
    anchor: AnchorSpec | None = None
    earth_polygons: tuple[EarthPolygon, ...] = ()
    source_files: tuple[str, ...] = ()

    @property
    def drawn(self) -> bool:
        """Whether the file draws any ground: areas or obstacles. Without, nothing is known of it."""
        return bool(self.areas or self.obstacles or self.earth_polygons)

    def meaning(self) -> dict[str, Any]:
        """Give all that decides what can be done there, records as they are: no titles, files or places."""

        def placeless(one: AreaSpec | ObstacleSpec | EarthPolygon | AnchorSpec) -> dict[str, Any]:
            return {key: value for key, value in fields_of(one).items() if key != "origin"}

        return {
            "areas": [placeless(one) for one in self.areas],
            "obstacles": [placeless(one) for one in self.obstacles],
            "earth_polygons": [placeless(one) for one in self.earth_polygons],
            "anchor": None if self.anchor is None else placeless(self.anchor),
        }

    @property
    def outline_m(self) -> Ring:
        """The first area's outline, for a picture; empty when there is none in the site frame."""
        return self.areas[0].outline_m if self.areas else ()
