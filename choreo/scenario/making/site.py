"""A site as written -> SiteSpec and its paths; what needs geometry is checked by choreo.ground."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

from choreo.scenario.making.companions import companion_of
from choreo.scenario.making.draft import Draft
from choreo.scenario.making.geojson import MOST_CORNERS, earth_polygons_of
from choreo.scenario.making.paths import check_beside, path_of
from choreo.scenario.records.scenario import PathSpec
from choreo.scenario.records.site import (
    AnchorSpec,
    AreaSpec,
    EarthPolygon,
    ObstacleSpec,
    Ring,
    SiteSpec,
    SlopeSpec,
)
from choreo.scenario.text.document import Keys
from choreo.scenario.written.faults import in_order
from choreo.scenario.written.site import AnchorWritten, AreaWritten, SiteWritten
from choreo.words import ChoreoError, Finding, errors_of
from choreo.words.quantities import quoted

# The name of the area that `outline:` alone stands for.
WHOLE = "site"
# From wet ice to racing tyres on warm asphalt, with room on both sides: beyond, a number is mistyped.
LEAST_FRICTION, MOST_FRICTION = 0.01, 1.5
# m per m. The steepest streets rise by a third; what is steeper is climbed, not driven by a programme.
MOST_GRADE_RATIO = 0.5
# From below the shore of the Dead Sea to above the highest mountain.
LEAST_HEIGHT_M, MOST_HEIGHT_M = -500.0, 9000.0
# 1e-12 degrees are a tenth of a micrometre: what is cut off came in on the way through radians.
DEGREE_DIGITS = 12


def load_site(path: str | Path) -> SiteSpec:
    """Load a site file by itself.

    Raises ChoreoError with every fault found, each with file, line and column.
    """
    findings: list[Finding] = []
    found = companion_of(Path(path), SiteWritten, findings)
    spec = None
    if found is not None:
        written, document = found
        draft = Draft(document, findings=findings)
        site_paths(draft, written)
        spec = site_of(draft, written)
    if spec is None or errors_of(findings):
        raise ChoreoError(in_order(findings))
    return spec


def site_paths(draft: Draft, written: SiteWritten) -> dict[str, PathSpec]:
    """Make the site's paths; faults go to the draft, whose document is the site's."""
    folder = Path(draft.document.file).parent
    made = {
        name: path_of(draft, ("paths", name), path, folder) for name, path in written.paths.items()
    }
    paths = {name: path for name, path in made.items() if path is not None}
    draft.paths = draft.document.names("paths")
    check_beside(draft, paths, set(written.paths))
    return paths


def site_of(draft: Draft, written: SiteWritten) -> SiteSpec:
    """Make what the site says of the ground; faults go to the draft, whose document is the site's."""
    document = draft.document
    areas: list[AreaSpec] = []
    if written.outline is not None:
        if "areas" in document.data:
            draft.fault(
                "scenario.not-together",
                ("outline",),
                related=[("areas",)],
                where="the site",
                first="`outline`",
                second="`areas`",
            )
        areas.append(
            AreaSpec(WHOLE, written.outline, (), None, None, document.origin(("outline",)))
        )
    areas += [_area(draft, ("areas", name), area) for name, area in written.areas.items()]
    obstacles = [
        ObstacleSpec(name, one.outline, document.origin(("obstacles", name)))
        for name, one in written.obstacles.items()
    ]
    for name in sorted(set(written.areas) & set(written.obstacles)):
        draft.fault(
            "scenario.same-name",
            ("obstacles", name),
            related=[("areas", name)],
            name=name,
            first="an area",
            second="an obstacle",
        )
    anchor = None if written.anchor is None else _anchor(draft, written.anchor)
    polygons = _geojson(draft, written)
    _check_size(draft, areas, obstacles, polygons)
    files = (document.file, *draft.files)
    return SiteSpec(
        written.title, document.file, tuple(areas), tuple(obstacles), anchor, polygons, files
    )


def _area(draft: Draft, keys: Keys, area: AreaWritten) -> AreaSpec:
    slope = None
    if area.slope is not None:
        slope = SlopeSpec(area.slope.grade, area.slope.uphill)
        _check_grade(draft, (*keys, "slope", "grade"), str(keys[-1]), slope.grade_ratio)
    if area.friction is not None:
        _check_friction(draft, (*keys, "friction"), str(keys[-1]), area.friction)
    origin = draft.document.origin(keys)
    return AreaSpec(str(keys[-1]), area.outline, area.holes, area.friction, slope, origin)


def _check_friction(draft: Draft, keys: Keys, area: str, friction: float) -> None:
    if not LEAST_FRICTION <= friction <= MOST_FRICTION:
        draft.fault(
            "site.bad-friction",
            keys,
            area=area,
            friction=friction,
            least=LEAST_FRICTION,
            most=MOST_FRICTION,
        )


def _check_grade(draft: Draft, keys: Keys, area: str, grade_ratio: float) -> None:
    if not 0 <= grade_ratio <= MOST_GRADE_RATIO:
        draft.fault(
            "site.bad-slope",
            keys,
            area=area,
            percent=grade_ratio * 100,
            most=MOST_GRADE_RATIO * 100,
        )


def _anchor(draft: Draft, written: AnchorWritten) -> AnchorSpec:
    keys: Keys = ("anchor",)
    degrees = {}
    for name, most in (("longitude", 180.0), ("latitude", 90.0)):
        value = round(math.degrees(getattr(written, name)), DEGREE_DIGITS)
        degrees[name] = value
        if abs(value) > most:
            what = f"the anchor's {name}"
            draft.fault(
                "site.not-degrees", (*keys, name), what=what, value=f"{value:.12g}", most=most
            )
    if not LEAST_HEIGHT_M <= written.height <= MOST_HEIGHT_M:
        draft.fault(
            "scenario.bad-value",
            (*keys, "height"),
            where="anchor > height",
            what=f"no ground lies at {written.height:g} m",
            instead=f"Write a height from {LEAST_HEIGHT_M:g} m to {MOST_HEIGHT_M:g} m.",
        )
    bearing_deg = 90.0 if written.bearing is None else math.degrees(written.bearing)
    return AnchorSpec(
        longitude_deg=degrees["longitude"],
        latitude_deg=degrees["latitude"],
        bearing_deg=round(bearing_deg % 360, DEGREE_DIGITS),
        height_m=written.height,
        datum=quoted(" ".join(written.datum.split())),
        origin=draft.document.origin(keys),
    )


def _geojson(draft: Draft, written: SiteWritten) -> tuple[EarthPolygon, ...]:
    if written.geojson is None:
        return ()
    keys: Keys = ("geojson",)
    if "anchor" not in draft.document.data:
        draft.fault("site.no-anchor", keys)
    found = earth_polygons_of(draft, Path(draft.document.file).parent / written.geojson, keys)
    for one in found:
        here = Draft(draft.document)
        if one.friction is not None:
            _check_friction(here, keys, one.name, one.friction)
        _check_grade(here, keys, one.name, one.grade_ratio)
        draft.findings += [replace(finding, origin=one.origin) for finding in here.findings]
    return found


def _check_size(
    draft: Draft,
    areas: list[AreaSpec],
    obstacles: list[ObstacleSpec],
    polygons: tuple[EarthPolygon, ...],
) -> None:
    rings: list[Ring] = [one.outline_m for one in areas]
    rings += [one.outline_m for one in obstacles]
    rings += [hole for area in areas for hole in area.holes_m]
    rings += [ring for one in polygons for ring in one.rings_deg]
    if sum(len(ring) for ring in rings) > MOST_CORNERS:
        draft.fault("site.too-many-corners", (), most=MOST_CORNERS)
