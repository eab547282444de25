"""Site metres to eastings and northings of a national or UTM grid, by its EPSG code."""

from __future__ import annotations

import math
from dataclasses import field
from typing import TYPE_CHECKING

from numpy.typing import ArrayLike

from choreo.ground.earth import Earth, Floats, Way, datum_of, epsg_code, gaussian_radius_m, way
from choreo.scenario import AnchorSpec
from choreo.words import ChoreoError, Finding, Origin
from choreo.words.later import loaded_later
from choreo.words.quantities import quoted
from choreo.words.records import dataclass

if TYPE_CHECKING:
    import pyproj
    import pyproj.exceptions
else:
    pyproj = loaded_later("pyproj")

# Grids for surveying keep lengths to a few parts in a thousand; maps for screens don't.
MOST_STRETCH_RATIO = 0.01
EXAMPLE = "Write the EPSG code of a projected system, like `EPSG:25832` (UTM zone 32, ETRS89)."


@dataclass(frozen=True)
class Grid:
    """A projected system of coordinates round one anchor.

    unit: of eastings and northings, `m` where they are metres. accuracy_m: of the way from the anchor's datum to
    the grid's: 0 where they are one, None where it isn't known. grid_ratio: grid metres for a metre on the ground at
    the anchor, height included. convergence_deg: grid north east of true north there.

    Raises ChoreoError: site.unknown-grid, site.unknown-datum.
    """

    code: str
    anchor: AnchorSpec
    name: str = field(init=False)
    unit: str = field(init=False)
    axes: tuple[str, str] = field(init=False)
    accuracy_m: float | None = field(init=False)
    way_name: str = field(init=False)
    best_way: bool = field(init=False)
    scale_ratio: float = field(init=False)
    grid_ratio: float = field(init=False)
    convergence_deg: float = field(init=False)
    _earth: Earth = field(init=False, repr=False)
    _way: Way = field(init=False, repr=False)

    def __post_init__(self) -> None:
        earth = Earth(self.anchor)
        system = self._system()
        # Before a way is looked for: far outside there is none, and that would be the fault.
        self._refuse_outside(system)
        chosen = way(datum_of(self.anchor), system, self.anchor)
        if chosen is None:
            raise self._fault(
                f"can't be reached from the anchor's datum `{self.anchor.datum}`",
                "Write the datum that the grid is made for into the anchor.",
                self.anchor.origin,
            )
        factors = pyproj.Proj(system).get_factors(
            self.anchor.longitude_deg, self.anchor.latitude_deg
        )
        scale_ratio = math.sqrt(factors.areal_scale)
        if abs(scale_ratio - 1) > MOST_STRETCH_RATIO:
            why = f"makes lengths {100 * abs(scale_ratio - 1):.0f} % wrong there"
            raise self._fault(why, f"It is a map, not a grid for surveying. {EXAMPLE}")
        easting, northing = system.axis_info[:2]
        if easting.direction == "north":
            easting, northing = northing, easting
        unit = "m" if easting.unit_name == "metre" else easting.unit_name.replace(" ", "_")
        for name, value in (
            ("code", f"EPSG:{system.to_epsg()}"),
            ("name", system.name),
            ("unit", unit),
            ("axes", (easting.name, northing.name)),
            ("accuracy_m", chosen.accuracy_m),
            ("way_name", chosen.name),
            ("best_way", chosen.best),
            ("scale_ratio", scale_ratio),
            ("grid_ratio", scale_ratio / self._ground_ratio(system)),
            ("convergence_deg", factors.meridian_convergence),
            ("_earth", earth),
            ("_way", chosen),
        ):
            object.__setattr__(self, name, value)

    def to_grid(self, x_m: ArrayLike, y_m: ArrayLike) -> tuple[Floats, Floats]:
        """Give eastings and northings, in `unit`, of site places in m (any shape)."""
        return self._way.there(*self._earth.to_earth(x_m, y_m))

    def to_site(self, easting: ArrayLike, northing: ArrayLike) -> tuple[Floats, Floats]:
        """Give site places in m of eastings and northings in `unit` (any shape)."""
        return self._earth.to_site(*self._way.back(easting, northing))

    def _system(self) -> pyproj.CRS:
        code = epsg_code(self.code)
        if code is None:
            raise self._fault("is not an EPSG code", EXAMPLE)
        try:
            system = pyproj.CRS.from_epsg(code)
        except pyproj.exceptions.CRSError:
            raise self._fault("is not known", EXAMPLE) from None
        if not system.is_projected or system.sub_crs_list:
            raise self._fault(f"is no projected system ({quoted(system.name)})", EXAMPLE)
        directions = {axis.direction for axis in system.axis_info}
        if directions != {"east", "north"}:
            shown = " and ".join(sorted(directions))
            raise self._fault(f"counts {shown}, not east and north", EXAMPLE)
        return system

    def _refuse_outside(self, system: pyproj.CRS) -> None:
        """Far from its zone a grid gives numbers still, but no crew has that grid."""
        use = system.area_of_use
        if use is None:
            return
        longitude = self.anchor.longitude_deg
        # West of the date line the eastern bound is the smaller number.
        width = (use.east - use.west) % 360 or 360.0
        inside = (longitude - use.west) % 360 <= width
        if inside and use.south <= self.anchor.latitude_deg <= use.north:
            return
        raise self._fault(
            f"({quoted(system.name)}) is for longitudes {use.west:g} to {use.east:g} deg and latitudes "
            f"{use.south:g} to {use.north:g} deg: the anchor lies outside",
            "Write the code of the grid that the site's surveyors use, and check the anchor.",
            self.anchor.origin,
        )

    def _ground_ratio(self, system: pyproj.CRS) -> float:
        geod = system.get_geod()
        assert geod is not None
        radius_m = gaussian_radius_m(geod.a, geod.es, self.anchor.latitude_deg)
        return 1 + self.anchor.height_m / radius_m

    def _fault(self, why: str, instead: str, origin: Origin | None = None) -> ChoreoError:
        values = {"grid": quoted(self.code), "why": why, "instead": instead}
        related = () if origin is None else (origin,)
        return ChoreoError([Finding("site.unknown-grid", "error", None, values, related)])
