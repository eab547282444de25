"""Places to stake out, their CSV, and the keep-out area for a map."""

import csv
import io
import math

import pytest
import shapely

from choreo.export.keep_out import LONGEST_EDGE_M, keep_out_geojson
from choreo.export.marks import StakePoint, marks_csv, marks_of, tapes_between
from choreo.ground import Earth
from choreo.ground.grid import Grid
from choreo.scenario import AnchorSpec
from choreo.words import Origin

ANCHOR = AnchorSpec(7.5, 54.3, 75.0, 5.0, "EPSG:4326", Origin("site.yaml", 4, 1))
EARTH = Earth(ANCHOR)
PLACES = (
    StakePoint("subject", "start mark", 355.44538506738235, 0.0, 0.0),
    StakePoint("walker", "start mark", 450.0, -4.0, 90.0),
    StakePoint("contact", "encounter, subject and walker", -1e-9, 0.25, None),
)


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


def test_csv_read_again_gives_every_place_to_a_millimetre() -> None:
    grid = Grid("EPSG:32632", ANCHOR)
    text = marks_csv(marks_of(PLACES, EARTH, grid), EARTH, grid)
    found = rows(text)
    assert [row["name"] for row in found] == ["subject", "walker", "contact"]
    for row, place in zip(found, PLACES, strict=True):
        assert (float(row["x_m"]), float(row["y_m"])) == pytest.approx(
            (place.x_m, place.y_m), abs=1e-4
        )
        x_m, y_m = EARTH.to_site(float(row["longitude_deg"]), float(row["latitude_deg"]))
        assert math.hypot(float(x_m) - place.x_m, float(y_m) - place.y_m) < 1e-3
        eastings, northings = grid.to_grid(place.x_m, place.y_m)
        assert float(row["easting_m"]) == pytest.approx(float(eastings), abs=1e-4)
        assert float(row["northing_m"]) == pytest.approx(float(northings), abs=1e-4)
        assert (row["datum"], row["grid"]) == ("EPSG:4326", "EPSG:32632")
    assert [row["heading_deg"] for row in found] == ["0.0000", "90.0000", ""]
    assert [row["bearing_deg"] for row in found] == ["75.0000", "345.0000", ""]


def test_csv_has_a_line_for_its_header_and_one_for_each_place() -> None:
    text = marks_csv(marks_of(PLACES))
    lines = text.splitlines()
    assert lines[0] == "name,what,x_m,y_m,heading_deg,point"
    contact = 'contact,"encounter, subject and walker",0.0000,0.2500,,'
    assert lines[3].startswith(contact)
    assert text.endswith("\n")
    assert len(lines) == 4


def test_csv_without_grid_has_no_columns_of_one() -> None:
    header = marks_csv(marks_of(PLACES, EARTH), EARTH).splitlines()[0]
    assert header.split(",")[5:] == [
        "longitude_deg",
        "latitude_deg",
        "bearing_deg",
        "datum",
        "point",
    ]


def test_columns_of_a_grid_in_feet_are_named_so() -> None:
    anchor = AnchorSpec(-74.0, 40.7, 0.0, 0.0, "EPSG:4269", Origin("site.yaml", 4, 1))
    earth, grid = Earth(anchor), Grid("2263", anchor)
    header = marks_csv(marks_of(PLACES, earth, grid), earth, grid).splitlines()[0]
    assert "easting_US_survey_foot" in header


def test_every_pair_has_its_tape() -> None:
    tapes = tapes_between(PLACES)
    assert [(one.first, one.second) for one in tapes] == [
        ("subject", "walker"),
        ("subject", "contact"),
        ("walker", "contact"),
    ]
    assert tapes[0].distance_m == pytest.approx(math.hypot(450.0 - 355.44538506738235, 4.0))


SQUARE = ((0.0, 0.0), (200.0, 0.0), (200.0, 100.0), (0.0, 100.0))
HOLE = ((50.0, 50.0), (60.0, 50.0), (60.0, 60.0), (50.0, 60.0), (50.0, 50.0))


def turn(ring: list[list[float]]) -> bool:
    return bool(shapely.LinearRing(ring).is_ccw)


@pytest.mark.parametrize("turned", [False, True])
def test_keep_out_area_is_geojson_as_the_rfc_has_it(turned: bool) -> None:
    outer = tuple(reversed(SQUARE)) if turned else SQUARE
    hole = tuple(reversed(HOLE)) if turned else HOLE
    document = keep_out_geojson([(outer, hole), (SQUARE,)], EARTH, {"margin_m": 10.0})
    assert document["type"] == "FeatureCollection"
    (feature,) = document["features"]
    assert feature["properties"] == {"margin_m": 10.0}
    assert feature["geometry"]["type"] == "MultiPolygon"
    first, second = feature["geometry"]["coordinates"]
    assert (len(first), len(second)) == (2, 1)
    # RFC 7946, section 3.1.6: closed, the outer ring counter-clockwise, holes clockwise.
    assert all(ring[0] == ring[-1] for ring in (*first, *second))
    assert [turn(ring) for ring in first] == [True, False]


def test_keep_out_area_read_again_is_the_same_ground() -> None:
    document = keep_out_geojson([(SQUARE, HOLE)], EARTH, {})
    (rings,) = document["features"][0]["geometry"]["coordinates"]
    assert len(rings) == 2
    back = []
    for ring in rings:
        longitudes, latitudes = zip(*ring, strict=True)
        x_m, y_m = EARTH.to_site(longitudes, latitudes)
        back.append(list(zip(x_m, y_m, strict=True)))
        edges = [math.dist(a, b) for a, b in zip(back[-1], back[-1][1:], strict=False)]
        assert max(edges) <= LONGEST_EDGE_M + 1e-3
    wanted = shapely.Polygon(SQUARE, [HOLE])
    assert shapely.Polygon(back[0], back[1:]).symmetric_difference(wanted).area < 0.05
    assert shapely.hausdorff_distance(shapely.LineString(back[0]), wanted.exterior) < 1e-3


def test_keep_out_area_over_the_date_line_goes_on_beyond_180_degrees() -> None:
    anchor = AnchorSpec(179.9999, -16.0, 90.0, 0.0, "EPSG:4326", Origin("site.yaml", 4, 1))
    document = keep_out_geojson([(SQUARE,)], Earth(anchor), {})
    (ring,) = document["features"][0]["geometry"]["coordinates"][0]
    assert max(lon for lon, _ in ring) - min(lon for lon, _ in ring) < 0.01
    assert turn(ring)
