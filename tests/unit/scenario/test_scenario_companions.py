"""Files that others name: only plain ones are read, little of them is told, and from where they are named."""

import os
from pathlib import Path

import pytest

from choreo.scenario import load, load_site
from choreo.words import ChoreoError, Finding

POST = "movers: {post: {stand: {at: [0 m, 0 m]}, body: {length: 1 m, width: 1 m}}}\n"
PATH = "paths: {road: {surveyed: other}}\n"
SITE = "choreo site: 1\nanchor: {longitude: 9 deg, latitude: 48 deg}\ngeojson: other\n"
# A file of somebody else: one secret a line.
PRIVATE = "".join(f"user{i}: 'xyzzy-{i}-secret-of-the-house'\n" for i in range(200))


def scenario(folder: Path, named: str) -> Path:
    """Write a scenario that names the file `other`: as its site, fleet or survey, or its site's GeoJSON."""
    line = {"surveyed": PATH, "geojson": "site: site.yaml\n"}.get(named, f"{named}: other\n")
    (folder / "site.yaml").write_text(SITE, encoding="utf-8")
    file = folder / "a.yaml"
    file.write_text(f"choreo: 1\ntitle: names another\n{line}{POST}", encoding="utf-8")
    return file


def faults_of(file: Path) -> tuple[Finding, ...]:
    with pytest.raises(ChoreoError) as caught:
        load(file)
    return caught.value.findings


@pytest.mark.parametrize("named", ["site", "fleet", "surveyed", "geojson"])
@pytest.mark.parametrize("other", ["folder", "pipe", "device"])
def test_what_is_no_plain_file_is_refused_where_it_is_named(
    named: str, other: str, tmp_path: Path
) -> None:
    target = tmp_path / "other"
    if other == "folder":
        target.mkdir()
    elif other == "pipe":
        os.mkfifo(target)
    else:
        target.symlink_to("/dev/zero")
    (finding,) = faults_of(scenario(tmp_path, named))
    assert finding.code == ("input.folder" if other == "folder" else "input.unreadable")
    assert finding.origin is not None
    naming = "site.yaml" if named == "geojson" else "a.yaml"
    assert (Path(finding.origin.file).name, finding.origin.line) == (naming, 3)


@pytest.mark.parametrize("named", ["site", "fleet", "surveyed", "geojson"])
def test_nothing_is_told_of_a_file_that_is_something_else(named: str, tmp_path: Path) -> None:
    (tmp_path / "other").write_text(PRIVATE, encoding="utf-8")
    (finding,) = faults_of(scenario(tmp_path, named))
    assert "xyzzy" not in finding.text + finding.advice
    (place,) = finding.related
    assert place.line == 3


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("choreo fleet: 1\nmovers: {}\n", "this is not a site file: it is a fleet file"),
        ("paths: {}\n", "this is not a site file: it has no `choreo site: 1`"),
    ],
)
def test_site_says_that_it_is_one(text: str, why: str, tmp_path: Path) -> None:
    site = tmp_path / "other"
    site.write_text(text, encoding="utf-8")
    assert [one.text for one in faults_of(scenario(tmp_path, "site"))] == [why]
    with pytest.raises(ChoreoError) as caught:
        load_site(site)
    assert [one.text for one in caught.value.findings] == [why]


def test_of_a_wrong_cell_only_its_beginning_is_told(tmp_path: Path) -> None:
    (tmp_path / "other").write_text(f"x_m,y_m\n0,0\n{'abcdefghij' * 9},secret\n", encoding="utf-8")
    (finding,) = faults_of(scenario(tmp_path, "surveyed"))
    assert finding.text == "this is not a point: `abcdefghijabcdefghij...` is not a number"
