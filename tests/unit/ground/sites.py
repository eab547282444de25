"""Site files for the tests of this folder. All figures invented."""

import json
from pathlib import Path
from typing import Any

from choreo.ground import Ground, build_ground
from choreo.scenario import SiteSpec, load_site
from choreo.words import ChoreoError, Finding

ROOT = Path(__file__).resolve().parents[3]
SITES = ROOT / "scenarios" / "sites"

SITE = """\
choreo site: 1
title: everything
paths:
  straight: {start: [0 m, 0 m], pieces: [{line: 400 m}]}
areas:
  pad:
    outline: [[0 m, 0 m], [400 m, 0 m], [400 m, 100 m], [0 m, 100 m]]
    holes: [[[10 m, 10 m], [20 m, 10 m], [20 m, 20 m], [10 m, 20 m]]]
    friction: 0.9
    slope: {grade: 2 %, uphill: 90 deg}
  tiles: {outline: [[400 m, 0 m], [500 m, 0 m], [500 m, 50 m]], friction: 30 %}
obstacles:
  hut: {outline: [[390 m, 90 m], [410 m, 90 m], [410 m, 110 m], [390 m, 110 m]]}
anchor: {longitude: 7.5 deg, latitude: 54.3 deg, bearing: 75 deg, height: 20 m, datum: "EPSG:4258"}
geojson: more.geojson
"""
CORNERS = [[7.51, 54.30], [7.512, 54.30], [7.512, 54.302], [7.51, 54.302], [7.51, 54.30]]


def feature(corners: Any = CORNERS, kind: str = "Polygon", **properties: Any) -> dict[str, Any]:
    """A feature with one polygon (or whatever coordinates and kind say)."""
    coordinates = [corners] if kind == "Polygon" else corners
    geometry = {"type": kind, "coordinates": coordinates}
    return {"type": "Feature", "properties": properties, "geometry": geometry}


def collection(*features: Any) -> str:
    """A GeoJSON file, a feature a line."""
    lines = ",\n".join(json.dumps(one) for one in features)
    return f'{{"type": "FeatureCollection", "features": [\n{lines}\n]}}\n'


def write_site(folder: Path, text: str = SITE, geojson: str | None = None) -> Path:
    """Write a site and the GeoJSON that it names; give the site's path."""
    (folder / "site.yaml").write_text(text, encoding="utf-8")
    more = collection(feature(name="lot")) if geojson is None else geojson
    (folder / "more.geojson").write_text(more, encoding="utf-8")
    return folder / "site.yaml"


def site(folder: Path, text: str = SITE, geojson: str | None = None) -> SiteSpec:
    """Load a site written into a folder."""
    return load_site(write_site(folder, text, geojson))


def ground(folder: Path, text: str = SITE, geojson: str | None = None) -> Ground:
    """Build the ground of a site written into a folder."""
    return build_ground(site(folder, text, geojson))


def faults(folder: Path, text: str = SITE, geojson: str | None = None) -> list[Finding]:
    """Give what is told of a site's text and its ground."""
    try:
        ground(folder, text, geojson)
    except ChoreoError as error:
        return list(error.findings)
    return []
