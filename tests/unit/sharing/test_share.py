"""A shared track: differences that can't be, a timetable that the replay agrees with, and one that it doesn't."""

from pathlib import Path

import numpy as np
import pytest

from choreo.circuits.planning import plan_circuit
from choreo.circuits.reading import load_circuit
from choreo.sharing.blocking import Gap, course_of, forbidden_between
from choreo.sharing.planning import plan_share
from choreo.sharing.replay import breaches
from choreo.sharing.timetable import Apart, Segment, gaps_of, merged, timetable
from choreo.words import ChoreoError
from tests.unit.circuits.miles import COOL, MILE

SHARE = """\
choreo share: 1
title: Three on a mile
vehicles: {car: {file: circuit.yaml, count: 3}}
single: [cool]
slots: yes
"""


def written(folder: Path, text: str) -> Path:
    (folder / "circuit.yaml").write_text(MILE + COOL, encoding="utf-8")
    file = folder / "share.yaml"
    file.write_text(text, encoding="utf-8")
    return file


def test_three_share_a_mile_and_the_replay_finds_who_starts_too_soon(tmp_path: Path) -> None:
    track = plan_share(written(tmp_path, SHARE))
    assert track.well
    assert track.starts_s is not None
    assert track.ends_s <= 1.05 * track.bound_s
    assert track.carries == 26
    single = frozenset({"cool"})
    runs = [
        (one.name, track.courses[one.file], t)
        for one, t in zip(track.vehicles, track.starts_s, strict=True)
    ]
    assert breaches(runs, track.gap, single) == ()
    near = [(name, course, 3.0 * number) for number, (name, course, _) in enumerate(runs)]
    found = breaches(near, track.gap, single)
    assert {(one.behind, one.ahead) for one in found} >= {("car 2", "car 1"), ("car 3", "car 2")}
    assert "cool" in {one.place for one in found}


def test_who_stands_aside_is_passed(tmp_path: Path) -> None:
    """Differences that can't be are those at which the replay finds somebody too near; a stop at a turn-off is none."""
    early = COOL.replace("{for: 10 min}", "{at: yard, for: 2 min}")
    early = early.replace("{line: 80 m}", "{line: 10 m, name: yard}, {line: 70 m}")
    (tmp_path / "circuit.yaml").write_text(MILE + early, encoding="utf-8")
    course = course_of(plan_circuit(load_circuit(tmp_path / "circuit.yaml")))
    gap, single = Gap(1.0, 2.0, 20.0), frozenset({"cool"})
    forbidden = forbidden_between(course, course, gap, single)
    random = np.random.default_rng(5)
    tried, wrong = {True: 0, False: 0}, []
    for d in random.uniform(10.0, 0.4 * course.lasts_s, 60):
        near = any(low - 1.5 < d < high + 1.5 for low, high in forbidden)
        inside = any(low + 1.5 < d < high - 1.5 for low, high in forbidden)
        if near and not inside:
            continue  # the replay looks every quarter of a second
        tried[inside] += 1
        found = breaches([("a", course, 0.0), ("b", course, float(d))], gap, single)
        if bool(found) != inside:
            wrong.append(d)
    assert wrong == []
    assert min(tried.values()) > 5


def test_too_little_time_is_told_with_the_fewest_that_do_not_fit(tmp_path: Path) -> None:
    whole = plan_share(written(tmp_path, SHARE))
    course = next(iter(whole.courses.values()))
    text = SHARE + f"within: {course.lasts_s + 5.0:.1f} s\n"
    track = plan_share(written(tmp_path, text))
    assert track.starts_s is None
    assert len(track.conflict) == 2


@pytest.mark.parametrize(
    ("before", "after", "code"),
    [
        ("count: 3", "count: 0", "scenario.bad-value"),
        ("[cool]", "[cold]", "scenario.unknown-name"),
        ("circuit.yaml", "other.yaml", "input.missing-file"),
        ("choreo share: 1", "choreo circuit: 1", "scenario.not-the-kind"),
    ],
)
def test_faults_are_told_by_code(tmp_path: Path, before: str, after: str, code: str) -> None:
    with pytest.raises(ChoreoError) as told:
        plan_share(written(tmp_path, SHARE.replace(before, after)))
    assert code in {one.code for one in told.value.findings}


def test_segments_keep_out_of_forbidden_differences() -> None:
    segments = [Segment(0, 10.0), Segment(1, 10.0), Segment(2, 10.0)]
    aparts = [Apart(a, b, ((-3.0, 4.0), (5.0, 20.0))) for a, b in ((0, 1), (0, 2), (1, 2))]
    found = timetable(segments, aparts)
    assert found is not None
    # The last one first, 3 s between each two.
    assert found.ends_s == pytest.approx(16.0, abs=1e-3)
    assert merged([(0.0, 2.0), (1.0, 3.0), (5.0, 6.0)]) == ((0.0, 3.0), (5.0, 6.0))
    assert gaps_of(((0.0, 3.0),))[1][0] == 3.0
