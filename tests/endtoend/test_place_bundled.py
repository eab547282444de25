"""Bundled scenarios on invented sites: what is told of the place is true of the outline that is told with it."""

import json
from functools import lru_cache
from pathlib import Path

import pytest
import shapely
from click.testing import CliRunner

from choreo.commands.entry import group
from choreo.ground import build_ground
from choreo.scenario import load_site

ROOT = Path(__file__).resolve().parents[2]
NAMES = (
    "walker-nearside",
    "child-seen-late",
    "motorcycle-into-flank",
    "steady-circle",
    "surveyed-road-walker",
)
# A strip of 60 m is too narrow for these, however they are turned.
TOO_WIDE = {"motorcycle-into-flank", "steady-circle"}


@lru_cache
def placed(name: str, site: str) -> tuple[int, dict[str, object]]:
    """Exit code and document of a placement."""
    files = [str(ROOT / "scenarios" / f"{name}.yaml"), "--site"]
    files.append(str(ROOT / "scenarios" / "sites" / f"{site}.yaml"))
    done = CliRunner().invoke(group, ["place", *files, "--json"])
    return done.exit_code, json.loads(done.stdout)


@pytest.mark.parametrize("site", ["strip", "l-pad"])
@pytest.mark.parametrize("name", NAMES)
def test_bundled_scenario_is_placed_as_told_or_proven_not_to_fit(name: str, site: str) -> None:
    code, told = placed(name, site)
    # Only the strip is level and alike everywhere: elsewhere not finding a place proves nothing.
    assert told["verdict"] in ("found", "none" if site == "strip" else "undecided")
    assert code == {"found": 0, "none": 1, "undecided": 3}[str(told["verdict"])]
    assert told["caution"]
    assert told["not_modelled"]
    if told["verdict"] != "found":
        assert told["shortfall"]["short_m"] > 0.0  # type: ignore[index]
        return
    ground = build_ground(load_site(ROOT / "scenarios" / "sites" / f"{site}.yaml"))
    footprint = shapely.union_all(
        [shapely.Polygon(outer, holes) for outer, *holes in told["footprint_polygons_m"]]  # type: ignore[attr-defined]
    )
    assert ground.drivable.covers(footprint)
    margin = told["best"]["margin_m"]  # type: ignore[index]
    assert margin <= footprint.distance(ground.drivable.boundary) + 0.001
    if site == "strip":
        assert margin <= told["margin_bound_m"] + 1e-9  # type: ignore[operator]
    else:
        assert told["margin_bound_m"] is None
    assert set(told["best"]["starts"])  # type: ignore[index]


@pytest.mark.parametrize("name", NAMES)
def test_strip_has_room_for_the_long_and_narrow(name: str) -> None:
    _, told = placed(name, "strip")
    assert (told["verdict"] == "found") == (name not in TOO_WIDE)
