"""Whatever a run reads, by however many files between, is never written to: every writing command, every file."""

from pathlib import Path

import pytest
from click.testing import CliRunner

from choreo.commands.entry import group

ROOT = Path(__file__).resolve().parent.parent.parent
SCENARIO = """\
choreo: 1
title: a lane
site: site.yaml
fleet: fleet.yaml
placed: {on: pad.yaml, at: [0 m, 0 m]}
movers:
  subject:
    like: car
    path: road
    programme:
      - ramp: {to: 40 km/h}
      - hold: {for: 3 s}
      - stop: {}
"""
FLEET = """\
choreo fleet: 1
movers:
  car: {body: {length: 4.30 m, width: 1.80 m}, limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2}}
"""
# Two files more; of the site that the scenario is put on only the ground is read.
SITE = """\
choreo site: 1
anchor: {longitude: 9 deg, latitude: 48 deg}
paths: {road: {surveyed: NAME.csv}}
geojson: NAME.geojson
"""
PAD = (
    '{"type": "Polygon", "coordinates": '
    "[[[8.99, 47.99], [9.01, 47.99], [9.01, 48.01], [8.99, 48.01], [8.99, 47.99]]]}\n"
)
POINTS = "x_m,y_m\n0,0\n100,0\n200,0\n300,0\n"
OWN = ["a.yaml", "fleet.yaml"]
OF_SITES = ["site.yaml", "site.csv", "site.geojson", "pad.yaml", "pad.geojson"]
OF_ANOTHER = ["other.yaml", "other.csv", "other.geojson"]
COMMANDS = [
    ["plan", "-o"],
    ["show", "-o"],
    ["show", "--sheet", "-o"],
    ["stress", "--runs", "10", "--csv"],
    ["export", "--marks"],
    ["export", "--keep-out"],
    ["place", "-o"],
    ["place", "--smallest", "-o"],
    ["why", "--apply", "1", "-o"],
]
ON_ANOTHER_SITE = ["place", "--site", "other.yaml", "-o"]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A scenario with all that it names, and another site."""
    texts = {"a.yaml": SCENARIO, "fleet.yaml": FLEET}
    for name in ("site", "pad", "other"):
        texts[f"{name}.yaml"] = SITE.replace("NAME", name)
        texts[f"{name}.csv"], texts[f"{name}.geojson"] = POINTS, PAD
    for name, text in texts.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize(
    ("arguments", "names"),
    [
        *((arguments, [*OWN, *OF_SITES]) for arguments in COMMANDS),
        (ON_ANOTHER_SITE, [*OWN, *OF_SITES, *OF_ANOTHER]),
    ],
    ids=lambda value: " ".join(value) if "." not in value[0] else "",
)
def test_no_command_writes_to_what_it_reads(
    folder: Path, arguments: list[str], names: list[str]
) -> None:
    before = {file.name: file.read_text(encoding="utf-8") for file in folder.iterdir()}
    command, *rest = arguments
    assert names
    for name in names:
        done = CliRunner().invoke(group, [command, "a.yaml", *rest, name])
        assert (done.exit_code, name in done.stderr) == (2, True), name
        assert "is not overwritten" in done.stderr, name
    assert {file.name: file.read_text(encoding="utf-8") for file in folder.iterdir()} == before
