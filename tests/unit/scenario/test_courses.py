"""Paths laid out as a course: what their keys may be, and where their pieces and cones lie."""

import math
from pathlib import Path

import numpy as np
import pytest

from choreo.geometry import build_paths
from choreo.scenario import loads
from choreo.words import ChoreoError

TEXT = """choreo: 1
title: a course
paths:
  course: {start: [0 m, 0 m], COURSE}
movers: {subject: {stand: {at: [0 m, 0 m]}, body: {length: 4 m, width: 2 m}}}
"""


def course(keys: str) -> str:
    """A scenario with a course of those keys."""
    return TEXT.replace("COURSE", keys)


@pytest.mark.parametrize(
    ("keys", "code", "word"),
    [
        ("course: ISO 3888", "scenario.unknown-name", "ISO 3888-"),
        (
            "course: ISO 3888-1, vehicle width: 1.8 m",
            "scenario.missing-key",
            "`centre to near edge`",
        ),
        ("course: ISO 3888-2, vehicle width: 1.8 m", "scenario.missing-key", "sources differ"),
        (
            "course: ISO 3888-2, vehicle width: 1.8 km, last width: 3 m, line: least jerk",
            "scenario.bad-value",
            "another unit",
        ),
        ("course: S-bend, radius: 30 m", "scenario.bad-value", "takes no `radius`"),
        (
            "course: ISO 3888-1, vehicle width: 1.8 m, offset read as: edges",
            "scenario.bad-value",
            "centre to centre",
        ),
        (
            "course: EN-FC turning path, speed: 30 km/h, side: farside",
            "scenario.bad-value",
            "10 km/h nearside",
        ),
        (
            "course: EN-LD departure, speed: 72 km/h, lateral speed: 0.25 m/s, departure: intentional",
            "scenario.bad-value",
            "0.3",
        ),
        ("course: EN-FC head-on, speed: 60 km/h", "scenario.bad-value", "50 km/h, 70 km/h"),
        ("course: EN-VA cut-in, speed: 70 km/h, aside: 3 m", "scenario.bad-value", "2.5 m"),
        ("course: steady circle, radius: 30 m, lane width: 70 m", "scenario.bad-value", "narrower"),
        ("course: U-turn, radius: 9 m, clothoid: 30 m", "scenario.bad-value", "shorter"),
        ("course: steady circle, radius: 30 m, laps: 0", "scenario.bad-value", "whole number"),
        ("pieces: [{line: 9 m, bank: 9 deg}]", "scenario.bad-value", "no inside"),
        (
            "pieces: [{arc: {radius: 9 m, angle: 9 deg}, bank: 70 deg}]",
            "scenario.bad-value",
            "steeper",
        ),
        (
            "pieces: [{line: 9 m, drive: backwards}, {arc: {radius: 9 m, angle: 9 deg}, bank: 7 deg}]",
            "scenario.not-together",
            "backwards",
        ),
        (
            "course: slalom, spacing: 18 m, count: 5, aside: 1 m, margin: 0.3 m",
            "scenario.bad-value",
            "`line: least lateral acceleration`",
        ),
        (
            "course: ISO 3888-2, vehicle width: 1.8 m, last width: 3 m, line: centres, margin: 0.3 m",
            "scenario.bad-value",
            "`line: least jerk`",
        ),
        ("pieces: [{line: 9 m}], laps: 3", "scenario.missing-key", "course"),
        ("pieces: [{line: 9 m}], course: S-bend", "scenario.one-of", "course"),
    ],
)
def test_a_course_that_can_not_be_meant_is_told(keys: str, code: str, word: str) -> None:
    with pytest.raises(ChoreoError) as caught:
        loads(course(keys), "course.yaml", Path())
    assert [one.code for one in caught.value.findings] == [code]
    (finding,) = caught.value.findings
    assert word in f"{finding.text} {finding.advice}"


def test_all_faults_of_a_course_are_told_at_once() -> None:
    keys = "course: ISO 3888-2, vehicle width: 1.8, offset read as: edges, line: straight"
    departure = "course: EN-LD departure, speed: 72 km/h, lateral speed: 0.45 m/s, departure: late"
    for text, words in (
        (keys, ("no unit", "takes no `offset read as`", "`straight`", "`last width` is missing")),
        (departure, ("no departure", "0.45 m/s")),
    ):
        with pytest.raises(ChoreoError) as caught:
            loads(course(text), "course.yaml", Path())
        told = [one.text for one in caught.value.findings]
        assert len(told) == len(words)
        assert all(any(word in one for one in told) for word in words), told


def test_cones_of_a_circle_stand_beside_its_path_all_the_way_round() -> None:
    for turn in ("left", "right"):
        keys = (
            f"course: steady circle, radius: 30 m, lane width: 4 m, turn: {turn}, heading: 30 deg"
        )
        spec = loads(course(keys), "course.yaml", Path()).paths["course"]
        path = build_paths({"course": spec})["course"]
        lap = np.linspace(*path.marks["lap"], 2000)
        poses = path.pose(lap)
        assert spec.course is not None
        # Those that would stand in its own way in and out are left out, and so are their pieces of the edge.
        assert 36 <= len(spec.course.cones) < 2 * 24
        whole = path.pose(np.linspace(0.0, path.length_m, 4000))
        marks = [(cone.x_m, cone.y_m) for cone in spec.course.cones]
        marks += [point for edge in spec.course.bounds for point in edge]
        assert len(marks) > 200
        for mark in marks:
            x, y = spec.on_site(*mark)
            assert np.hypot(whole.x_m - x, whole.y_m - y).min() > 1.9
        for cone in spec.course.cones:
            x, y = spec.on_site(cone.x_m, cone.y_m)
            apart = np.hypot(poses.x_m - x, poses.y_m - y)
            nearest = int(apart.argmin())
            assert apart[nearest] == pytest.approx(2.0, abs=1e-3)
            heading = poses.heading_rad[nearest]
            left = math.cos(heading) * (y - poses.y_m[nearest])
            left -= math.sin(heading) * (x - poses.x_m[nearest])
            assert (left > 0) == (cone.side == "left")


def test_slalom_passes_its_cones_at_the_distance_that_is_asked_for() -> None:
    keys = "course: slalom, spacing: 18 m, count: 5, aside: 1 m"
    spec = loads(course(keys), "course.yaml", Path()).paths["course"]
    path = build_paths({"course": spec})["course"]
    for number, end in enumerate(path.marks[f"gate{n + 1}"][1] for n in range(5)):
        pose = path.pose(np.array([end]))
        assert pose.x_m[0] == pytest.approx(100.0 + 18.0 * (number + 1), abs=1e-6)
        assert pose.y_m[0] == pytest.approx((-1.0) ** number, abs=1e-6)


def test_u_turn_leads_back_beside_the_way_in() -> None:
    for clothoid in ("0 m", "12 m"):
        keys = f"course: U-turn, radius: 12 m, clothoid: {clothoid}, turn: right"
        spec = loads(course(keys), "course.yaml", Path()).paths["course"]
        path = build_paths({"course": spec})["course"]
        end = path.pose(np.array([path.length_m]))
        assert end.heading_rad[0] == pytest.approx(-math.pi, abs=1e-9)
        assert end.y_m[0] <= -24.0 + 1e-9
