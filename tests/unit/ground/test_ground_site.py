"""Site files become records and ground."""

import json
import math
from pathlib import Path

import numpy as np
import pytest
import shapely

from choreo.ground import Earth, build_ground, ground_of
from choreo.scenario import load, load_site
from choreo.words import ChoreoError
from tests.unit.ground.sites import (
    CORNERS,
    ROOT,
    SITE,
    SITES,
    collection,
    feature,
    ground,
    site,
    write_site,
)


def test_every_key_of_a_site_arrives_in_si(tmp_path: Path) -> None:
    spec = site(tmp_path)
    pad, tiles = spec.areas
    assert (pad.name, pad.friction, len(pad.holes_m)) == ("pad", 0.9, 1)
    assert pad.slope is not None
    assert (pad.slope.grade_ratio, pad.slope.uphill_rad) == (0.02, pytest.approx(math.pi / 2))
    assert (tiles.friction, tiles.slope, tiles.outline_m[1]) == (0.3, None, (500.0, 0.0))
    assert [one.name for one in spec.obstacles] == ["hut"]
    anchor = spec.anchor
    assert anchor is not None
    assert (anchor.longitude_deg, anchor.latitude_deg) == (7.5, 54.3)
    assert (anchor.bearing_deg, anchor.height_m, anchor.datum) == (75.0, 20.0, "EPSG:4258")
    (lot,) = spec.earth_polygons
    assert (lot.name, lot.use, lot.friction, lot.grade_ratio) == ("lot", "drivable", None, 0.0)
    assert lot.rings_deg == (tuple(tuple(one) for one in CORNERS[:-1]),)
    assert lot.origin.line == 2
    assert Path(lot.origin.file).name == "more.geojson"


def test_x_axis_bears_east_at_the_ellipsoid_of_wgs84_unless_told(tmp_path: Path) -> None:
    text = "choreo site: 1\nanchor: {longitude: -7.5 deg, latitude: -54.3 deg}\n"
    anchor = site(tmp_path, text).anchor
    assert anchor is not None
    assert (anchor.bearing_deg, anchor.height_m, anchor.datum) == (90.0, 0.0, "EPSG:4326")


def test_outline_alone_is_one_area_called_site() -> None:
    spec = load_site(SITES / "junction.yaml")
    assert [area.name for area in spec.areas] == ["site"]
    assert spec.outline_m == spec.areas[0].outline_m


def test_scenario_carries_its_site_and_the_files_it_was_read_from(tmp_path: Path) -> None:
    text = (ROOT / "scenarios" / "walker-nearside.yaml").read_text(encoding="utf-8")
    strip = (SITES / "strip.yaml").read_text(encoding="utf-8")
    strip += "geojson: more.geojson\n"
    write_site(tmp_path, strip)
    scenario_file = tmp_path / "a.yaml"
    fleet = ROOT / "scenarios" / "fleet" / "invented.yaml"
    text = text.replace("sites/strip.yaml", "site.yaml").replace("fleet/invented.yaml", str(fleet))
    scenario_file.write_text(text, encoding="utf-8")
    scenario = load(scenario_file)
    assert scenario.site is not None
    assert scenario.outline_m == scenario.site.areas[0].outline_m
    assert str(tmp_path / "more.geojson") in scenario.source_files
    found = ground_of(scenario)
    assert found is not None
    assert [area.name for area in found.areas] == ["strip", "lot"]


def test_scenario_without_site_or_with_one_that_draws_nothing_has_no_ground(tmp_path: Path) -> None:
    text = "choreo site: 1\nanchor: {longitude: 7 deg, latitude: 54 deg}\n"
    spec = site(tmp_path, text)
    assert (spec.drawn, spec.outline_m) == (False, ())
    with pytest.raises(ChoreoError) as caught:
        build_ground(spec)
    assert [one.code for one in caught.value.findings] == ["site.no-area"]
    assert ground_of(load(ROOT / "scenarios" / "steady-circle.yaml")) is None


def test_drivable_ground_is_the_union_of_areas_without_holes_and_obstacles(tmp_path: Path) -> None:
    found = ground(tmp_path)
    assert [area.name for area in found.areas] == ["pad", "tiles", "lot"]
    pad, tiles, lot = (area.polygon for area in found.areas)
    assert (pad.area, tiles.area) == pytest.approx((400 * 100 - 100, 100 * 50 / 2))
    assert set(found.obstacles) == {"hut"}
    # The hut covers 10 m by 10 m of the pad.
    assert found.drivable.area == pytest.approx(pad.area + tiles.area + lot.area - 100)
    points = shapely.points([[5, 5], [15, 15], [395, 95], [480, 10], [480, 45], [395, 85]])
    assert shapely.covers(found.drivable, points).tolist() == [
        True,
        False,
        False,
        True,
        False,
        True,
    ]
    area = found.areas[0]
    assert (area.friction, area.grade_ratio, area.uphill_rad) == (0.9, 0.02, math.pi / 2)


def test_areas_under_a_shape_are_told(tmp_path: Path) -> None:
    found = ground(tmp_path)
    assert [one.name for one in found.areas_under(shapely.box(398, 0.2, 402, 0.5))] == [
        "pad",
        "tiles",
    ]
    assert found.areas_under(shapely.box(-9, -9, -5, -5)) == ()


def test_polygons_of_geojson_lie_where_their_longitudes_and_latitudes_do(tmp_path: Path) -> None:
    # The datum of the anchor is WGS 84 here, as that of GeoJSON: no way between them blurs it.
    text = SITE.replace("EPSG:4258", "EPSG:4326")
    spec = site(tmp_path, text)
    assert spec.anchor is not None
    lot = build_ground(spec).areas[-1].polygon
    longitude, latitude = np.array(CORNERS).T
    x_m, y_m = Earth(spec.anchor).to_site(longitude, latitude)
    assert lot.equals(shapely.Polygon(np.column_stack([x_m, y_m])))


def test_properties_of_geojson_give_surface_and_use(tmp_path: Path) -> None:
    tower = [[lon + 0.0005, 54.3005 + (lat - 54.3) / 4] for lon, lat in CORNERS]
    more = collection(
        feature(name="lot", friction=0.7, grade_percent=1.5, uphill_bearing_deg=75, colour="#f00"),
        feature(corners=tower, name="tower", use="obstacle"),
    )
    found = ground(tmp_path, SITE, more)
    lot = found.areas[-1]
    assert (lot.friction, lot.grade_ratio) == (0.7, pytest.approx(0.015))
    # Uphill along the bearing of the x axis is uphill along x.
    assert lot.uphill_rad == pytest.approx(0)
    assert set(found.obstacles) == {"hut", "tower"}


def test_parts_that_share_a_name_get_numbers(tmp_path: Path) -> None:
    aside = [[lon + 0.01, lat] for lon, lat in CORNERS]
    more = collection(
        feature(corners=[[CORNERS], [aside]], kind="MultiPolygon", name="pad"), feature()
    )
    names = [one.name for one in site(tmp_path, SITE, more).earth_polygons]
    assert names == ["pad-2", "pad-3", "more-2"]


@pytest.mark.parametrize("kind", ["geometry", "feature"])
def test_geojson_may_be_one_feature_or_one_geometry(tmp_path: Path, kind: str) -> None:
    one = feature(name="lot")
    text = json.dumps(one["geometry"] if kind == "geometry" else one)
    assert len(site(tmp_path, SITE, text).earth_polygons) == 1


def test_heights_of_positions_are_left_aside(tmp_path: Path) -> None:
    high = [[*corner, 31.5] for corner in CORNERS]
    (lot,) = site(tmp_path, SITE, collection(feature(corners=high))).earth_polygons
    assert lot.rings_deg[0][0] == (7.51, 54.3)


@pytest.mark.parametrize("path", sorted(SITES.glob("*.yaml")), ids=lambda path: path.stem)
def test_bundled_site_has_ground_and_says_that_it_is_invented(path: Path) -> None:
    spec = load_site(path)
    found = build_ground(spec)
    assert found.drivable.area > 10_000
    assert "nvented" in found.title
    assert spec.anchor is not None


def test_bundled_pad_has_two_surfaces_a_slope_and_a_building() -> None:
    found = build_ground(load_site(SITES / "l-pad.yaml"))
    assert {area.name: area.friction for area in found.areas} == {"asphalt": 0.9, "tiles": 0.25}
    assert {area.grade_ratio for area in found.areas} == {0.01}
    assert not found.drivable.intersects(shapely.Point(110, 200))
    assert isinstance(found.drivable, shapely.Polygon)
    assert len(found.drivable.interiors) == 0
