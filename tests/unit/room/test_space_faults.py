"""Every error of the area space has a faulty file, told at its place, by faults or by failed checks."""

from pathlib import Path

import pytest

from choreo.case import whole_answer
from choreo.scenario import load, loads
from choreo.words import CATALOGUE, ChoreoError
from choreo.words.catalogue.space import SPACE

FAULTY = Path(__file__).parents[3] / "scenarios" / "faulty"
FILES = sorted(FAULTY.glob("space.*.yaml"))
# Warnings, and what is told of a plan: each has a test of its own in this folder.
WARNINGS = {
    "space.aside-counted",
    "space.near-edge",
    "space.near-miss",
    "space.no-way-back",
    "space.past-course",
    "space.path-short",
    "space.rolls-on",
    "space.slides",
    "space.stop-combined",
    "space.sight-glimpse",
    "space.sight-never",
    "space.surface",
    "space.surface-decides",
}


def told_of(path: Path) -> list[tuple[str, str | None]]:
    """Codes and places of what forbids the run."""
    try:
        plan = whole_answer(load(path)).plan
    except ChoreoError as error:
        return [(one.code, str(one.origin)) for one in error.findings]
    assert plan.space is not None
    assert not plan.space.clear
    return [(one.code, one.place) for one in plan.space.failures]


def test_catalogue_and_faulty_files_are_equal() -> None:
    assert {path.stem for path in FILES} == set(SPACE) - WARNINGS
    assert set(CATALOGUE) > WARNINGS


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_faulty_file_gives_its_own_code_at_its_place(path: Path) -> None:
    found = told_of(path)
    assert {code for code, _ in found} == {path.stem}
    lines = path.read_text(encoding="utf-8").splitlines()
    (wanted,) = (number for number, line in enumerate(lines, 1) if line.endswith("# here"))
    assert all(place is not None and int(place.split(":")[-2]) == wanted for _, place in found)


def test_door_close_to_its_own_car_is_warned_of_only() -> None:
    # 5 cm beside the car it is rigged to, on an arc of its own: no robot drives it, it is where it is mounted.
    text = """choreo: 1
title: a door along a path
paths: {swing: {start: [0 m, 1.0 m], heading: 90 deg, pieces: [{arc: {radius: 1 m, angle: 60 deg}}]}}
movers:
  car: {body: {length: 4 m, width: 1.85 m}, stand: {at: [0 m, 0 m]}}
  door:
    kind: KIND
    path: swing
    body: {length: 0.05 m, width: 1 m}
    limits: {speed: 5 km/h, accelerate: 5 m/s2, brake: 5 m/s2}
    start: {station: 0 m}
    programme: [{ramp: {to: 3 km/h}}, {hold: {}}, {stop: {}}]
"""
    told = {}
    for kind in ("obstacle", "bicycle"):
        plan = whole_answer(loads(text.replace("KIND", kind), "door.yaml", Path())).plan
        assert plan.space is not None
        told[kind] = {one.code for one in (*plan.space.failures, *plan.warnings)}
    assert "space.near-miss" in told["obstacle"]
    assert "space.may-touch" not in told["obstacle"]
    assert "space.may-touch" in told["bicycle"]
