"""Faulty sites: every code of the area site has a file or a test, and is told at its place."""

import json
import math
from pathlib import Path

import pytest

from choreo.commands.checks import _look
from choreo.ground import ground_of
from choreo.scenario import load, load_site
from choreo.words import CATALOGUE, ChoreoError, Finding
from tests.unit.ground.sites import CORNERS, ROOT, SITE, collection, faults, feature, write_site

FAULTY = ROOT / "scenarios" / "faulty"
FILES = sorted(FAULTY.glob("site.*.yaml"))
# Told of a command's options (tests/endtoend/test_export.py, test_ground_grid.py), or of files too large to keep.
WITHOUT_FILE = {
    "site.anchor-missing",
    "site.no-keep-out",
    "site.unknown-grid",
    "site.too-many-corners",
}
# Lines of GeoJSON files, which have no comments to mark them.
LINES = {
    "site.bad-geojson": 2,
    "site.far-from-anchor": 2,
    "site.not-degrees": 4,
    "site.unused-property": 3,
}


def told_of(path: Path) -> tuple[Finding, ...]:
    try:
        scenario = load(path)
        ground_of(scenario)
    except ChoreoError as error:
        return error.findings
    return scenario.notes


def test_catalogue_and_faulty_files_are_equal() -> None:
    codes = {code for code in CATALOGUE if code.startswith("site.")}
    assert {path.stem for path in FILES} == codes - WITHOUT_FILE


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_faulty_site_gives_its_own_code_at_its_place(path: Path) -> None:
    found = told_of(path)
    assert {finding.code for finding in found} == {path.stem}
    assert len(found) == 1
    assert found[0].origin is not None
    file = Path(found[0].origin.file)
    assert file.parent == FAULTY / "sites"
    if path.stem in LINES:
        assert file.suffix == ".geojson"
        assert found[0].origin.line == LINES[path.stem]
    else:
        lines = file.read_text(encoding="utf-8").splitlines()
        assert lines[found[0].origin.line - 1].endswith("# here")


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_check_tells_faults_of_the_ground(path: Path) -> None:
    found, _ = _look(path)
    assert path.stem in {finding.code for finding in found}
    told = " ".join(f"{finding.text} {finding.advice}" for finding in found)
    assert [word for word in ("None", "dict", "tuple", "shapely", "nan ") if word in told] == []


def ring_of(count: int) -> str:
    points = (
        f"[{100 * math.cos(2 * math.pi * k / count):.6f} m, "
        f"{100 * math.sin(2 * math.pi * k / count):.6f} m]"
        for k in range(count)
    )
    return f"choreo site: 1\noutline: [{', '.join(points)}]\n"


def test_too_many_corners_are_refused_and_many_are_not(tmp_path: Path) -> None:
    assert [one.code for one in faults(tmp_path, ring_of(5001))] == ["site.too-many-corners"]
    assert faults(tmp_path, ring_of(5000)) == []


def test_thousands_of_crossings_are_told_once(tmp_path: Path) -> None:
    zigzag = ", ".join(f"[{k % 71} m, {(k * 37) % 89} m]" for k in range(5000))
    (finding,) = faults(tmp_path, f"choreo site: 1\noutline: [{zigzag}]\n")
    assert finding.code == "site.outline-crosses"


YAML_FAULTS = [
    ("friction: 0.9", "friction: slippery", "scenario.bad-value", "plain number without unit"),
    ("friction: 0.9", "friction: [0.9]", "scenario.bad-value", "not a list"),
    ("friction: 0.9", "friction: 0.9 m", "scenario.bad-value", "0.9"),
    ("friction: 0.9", "friction: 0", "site.bad-friction", "0.01"),
    ("friction: 30 %", "friction: 300 %", "site.bad-friction", "1.5"),
    ("grade: 2 %", "grade: 60 %", "site.bad-slope", "50 %"),
    ("grade: 2 %, ", "", "scenario.missing-key", "grade"),
    ("uphill: 90 deg", "uphil: 90 deg", "scenario.unknown-key", "uphill"),
    ("holes: [[[10 m", "holes: [[[-10 m", "site.hole-outside", "reaches beyond"),
    ("longitude: 7.5 deg", "longitude: 512345 deg", "scenario.bad-value", "deg"),
    ("longitude: 7.5 deg", "longitude: 181 deg", "site.not-degrees", "-180 to 180"),
    ("latitude: 54.3 deg", "latitude: 95 deg", "site.not-degrees", "-90 to 90"),
    ("longitude: 7.5 deg", "longitude: 7.5", "scenario.bad-value", "`7.5 deg`"),
    ("height: 20 m", "height: 20 km", "scenario.bad-value", "9000 m"),
    ("EPSG:4258", "ETRS89", "site.unknown-datum", "EPSG:4326"),
    ("geojson: more.geojson", "geojson: mor.geojson", "input.missing-file", "there is no file"),
    ("  hut:", "  pad:", "scenario.same-name", "an obstacle"),
    ("geojson:", "geojsn:", "scenario.unknown-key", "geojson"),
    ("anchor:", "ancor:", "site.no-anchor", "anchor"),
    (
        "areas:",
        "outline: [[0 m, 0 m], [1 m, 0 m], [1 m, 1 m]]\nareas:",
        "scenario.not-together",
        "",
    ),
    ("[500 m, 50 m]]", "[450 m, 0 m]]", "site.outline-crosses", "encloses no ground"),
    ("[400 m, 0 m], [500 m, 0 m], ", "", "site.outline-crosses", "1 different corners"),
]


@pytest.mark.parametrize(("old", "new", "code", "told"), YAML_FAULTS)
def test_fault_in_a_site_is_told_in_it(
    tmp_path: Path, old: str, new: str, code: str, told: str
) -> None:
    assert old in SITE
    found = faults(tmp_path, SITE.replace(old, new, 1))
    (finding,) = [one for one in found if one.code == code]
    assert told in f"{finding.text} {finding.advice}"
    assert finding.origin is not None
    assert finding.origin.line > 0


def test_all_faults_of_a_sites_ground_are_told_at_once(tmp_path: Path) -> None:
    text = (
        SITE.replace("[400 m, 100 m], [0 m, 100 m]]", "[0 m, 100 m], [400 m, 100 m]]")
        .replace("[410 m, 110 m], [390 m, 110 m]]", "[390 m, 110 m], [410 m, 110 m]]")
        .replace(
            "[500 m, 50 m]]", "[500 m, 50 m]]\n    holes: [[[0 m, 0 m], [1 m, 0 m], [1 m, 1 m]]]"
        )
        .replace("tiles: {outline", "tiles:\n    outline")
        .replace(", friction: 30 %}", "")
    )
    far = collection(feature(corners=[[lat, lon] for lon, lat in CORNERS]))
    codes = [one.code for one in faults(tmp_path, text, far)]
    assert sorted(codes) == [
        "site.far-from-anchor",
        "site.hole-outside",
        "site.outline-crosses",
        "site.outline-crosses",
    ]


def test_all_faults_of_a_sites_text_are_told_at_once(tmp_path: Path) -> None:
    text = SITE.replace("friction: 0.9", "friction: 9").replace("grade: 2 %", "grade: -2 %")
    text = text.replace("latitude: 54.3 deg", "latitude: 154.3 deg").replace(
        "line: 400 m", "line: 4"
    )
    open_ring = collection(feature(corners=CORNERS[:-1]), feature(use="lawn"))
    codes = sorted(one.code for one in faults(tmp_path, text, open_ring))
    assert codes == [
        "scenario.bad-value",
        "site.bad-friction",
        "site.bad-geojson",
        "site.bad-geojson",
        "site.bad-slope",
        "site.not-degrees",
    ]


GEOJSON_FAULTS = [
    ("", "it is not JSON", 1),
    ("{\n", "it is not JSON", 2),
    ('{"type": "FeatureCollection", "features": [NaN]}', "it is not JSON", 1),
    ("[" * 100_000, "it is not JSON", 1),
    (f'{{"a": {"1" * 10_000}}}', "it is not JSON", 1),
    ("[]", "not a GeoJSON object", 1),
    ("{}", "its type is missing", 1),
    ('{\n"type": "Topology"}', "its type is `Topology`", 2),
    ('{"type": "FeatureCollection"}', "no list of `features`", 1),
    ('{"type": "FeatureCollection", "features": {}}', "no list of `features`", 1),
    (collection(7), "its type is `7`", 2),
    (collection({"type": "Feature"}), "it has no geometry", 2),
    (collection(feature(kind="LineString")), "its geometry is `LineString`", 2),
    (collection(feature(kind="MultiPolygon", corners=[])), "no coordinates", 2),
    (collection(feature(), feature(corners=[])), "fewer than four positions", 3),
    (collection(feature(corners=[*CORNERS[:3], 7, CORNERS[0]])), "not a pair of numbers", 2),
    (collection(feature(corners=[*CORNERS[:3], [7], CORNERS[0]])), "position no. 4", 2),
    (collection(feature(corners=[*CORNERS[:3], ["7", "5"], CORNERS[0]])), "position no. 4", 2),
    (collection(feature(corners=[*CORNERS[:3], [True, 5], CORNERS[0]])), "position no. 4", 2),
    (collection(feature(corners=[*CORNERS[:3], [1e400, 5], CORNERS[0]])), "not JSON", 1),
    (collection(feature(corners=[*CORNERS[:3], [10**400, 5], CORNERS[0]])), "position no. 4", 2),
    (collection(feature(corners=CORNERS[:-1])), "it is open", 2),
    (collection(feature(use="lawn")), "its use is `lawn`", 2),
    (collection(feature(friction="0.9")), "its `friction` is `0.9`", 2),
    (collection(feature(grade_percent=1)), "without `uphill_bearing_deg`", 2),
    (collection(feature(grade_percent=1, uphill_bearing_deg=None)), "without `uphill_", 2),
    (collection(feature(use=None)), "its use is empty (null)", 2),
    (collection(feature(use="")), "its use is ``", 2),
    (collection(feature(), feature(Use="obstacle")), "its property `Use` is written `use`", 3),
    (collection(feature(Friction=0.2)), "its property `Friction` is written `friction`", 2),
    (collection(feature(use="drivable", USE="obstacle")), "its property `USE` is written", 2),
    (collection(feature(type="obstacle")), "its property `type` is `obstacle`", 2),
    (collection(feature(), feature(name=" Obstacle")), "its property `name` is", 3),
    (collection(feature(use="drivable", what="obstacle")), "its property `what`", 2),
    (collection(feature(name=7)), "its name is `7`", 2),
    (collection({"type": "Feature", "properties": [], "geometry": {}}), "are no object", 2),
    (
        '{"type": "FeatureCollection",\n"crs": {"properties": {"name": "EPSG:25832"}}, "features": []}',
        "its system of coordinates is `EPSG:25832`",
        2,
    ),
]


@pytest.mark.parametrize(("text", "told", "line"), GEOJSON_FAULTS)
def test_unusable_geojson_is_told_at_its_line(
    tmp_path: Path, text: str, told: str, line: int
) -> None:
    found = [one for one in faults(tmp_path, SITE, text) if told in one.text]
    assert [one.code for one in found] == ["site.bad-geojson"]
    assert found[0].origin is not None
    assert (Path(found[0].origin.file).name, found[0].origin.line) == ("more.geojson", line)


@pytest.mark.parametrize(
    "properties",
    [
        {},
        {"use": "obstacle", "type": "obstacle"},
        {"use": "obstacle", "name": "obstacle"},
        {"use": "drivable", "name": "obstacle"},
        {"name": "a", "Name": "a"},
        {"grade_percent": 0, "uphill_bearing_deg": None},
        {"type": "obstacle course", "layer": 7, "colour": None},
    ],
)
def test_properties_that_leave_no_doubt_are_no_fault(
    tmp_path: Path, properties: dict[str, object]
) -> None:
    assert faults(tmp_path, SITE, collection(feature(**properties))) == []


def test_property_in_other_case_is_told_with_its_right_spelling_beyond_many_others(
    tmp_path: Path,
) -> None:
    many = {f"field {number}": number for number in range(200)}
    (finding,) = faults(tmp_path, SITE, collection(feature(**many, Use="obstacle")))
    assert "Write `use`" in finding.advice
    (finding,) = faults(tmp_path, SITE, collection(feature(**many, type="obstacle")))
    assert "`use: obstacle`" in finding.advice


def test_friction_and_grade_of_geojson_are_checked_at_their_feature(tmp_path: Path) -> None:
    more = collection(
        feature(friction=9), feature(grade_percent=-1, uphill_bearing_deg=0, name="ramp")
    )
    found = faults(tmp_path, SITE, more)
    assert [one.code for one in found] == ["site.bad-friction", "site.bad-slope"]
    assert [one.origin.line for one in found if one.origin] == [2, 3]
    assert "`ramp`" in found[1].text


def test_crs_of_older_files_is_read_when_it_is_wgs84(tmp_path: Path) -> None:
    document = json.loads(collection(feature()))
    document["crs"] = {"properties": {"name": "urn:ogc:def:crs:OGC:1.3:CRS84"}}
    assert faults(tmp_path, SITE, json.dumps(document)) == []


def test_control_characters_of_a_name_do_not_reach_the_terminal(tmp_path: Path) -> None:
    more = collection(feature(name="a\x1b[2Jb", corners=[[lat, lon] for lon, lat in CORNERS]))
    (finding,) = faults(tmp_path, SITE, more)
    assert "\x1b" not in finding.text


@pytest.mark.parametrize("text", ["choreo: 1\ntitle: a\nmovers: {}\n", "areas: []\n"])
def test_file_that_is_no_site_is_refused_as_one(tmp_path: Path, text: str) -> None:
    with pytest.raises(ChoreoError) as caught:
        load_site(write_site(tmp_path, text))
    assert [one.code for one in caught.value.findings] == ["scenario.not-the-kind"]
