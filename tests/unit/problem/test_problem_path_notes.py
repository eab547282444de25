"""What geometry says of paths and trigger stations. All figures invented."""

import math
from pathlib import Path

import pytest

from choreo.problem import build_staging
from choreo.scenario import load, loads
from choreo.words import ChoreoError, Finding

ROOT = Path(__file__).parents[3] / "scenarios"
FAULTY = ROOT / "faulty"


def found_in(code: str, folder: Path, *changes: tuple[str, str]) -> list[Finding]:
    """Notes and faults of the faulty file of that code, with texts changed."""
    text = (FAULTY / f"{code}.yaml").read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    try:
        return list(build_staging(loads(text, "a.yaml", folder)).notes)
    except ChoreoError as error:
        return list(error.findings)


def test_jump_of_curvature_is_a_note_with_its_place() -> None:
    (finding,) = found_in("problem.curvature-jump", FAULTY)
    assert (finding.code, finding.severity) == ("problem.curvature-jump", "note")
    assert "jumps from 0 to 1/50 m at station 50.000 m:" in finding.text


ARC = "arc: {radius: 50 m, angle: 60 deg}"


def test_other_jumps_are_told_with_the_largest() -> None:
    gentler = f"arc: {{radius: 90 m, angle: 60 deg}}\n      - {ARC}"
    (finding,) = found_in("problem.curvature-jump", FAULTY, (ARC, gentler))
    # 90 m x pi / 3 behind the first: from 1/90 to 1/50 is less than from straight to 1/90.
    assert "jumps from 0 to 1/90 m at station 50.000 m, and again at 144.248 m:" in finding.text


SMOOTH = [
    (ARC, "bend: {radius: 50 m, angle: 60 deg, clothoid length: 10 m}"),
    (ARC, "arc: {radius: 600 m, angle: 5 deg}"),
    (", jerk: 4 m/s3", ""),
    ("station: free", "station: 51 m"),
]


@pytest.mark.parametrize("change", SMOOTH)
def test_no_jump_is_told_where_none_matters(change: tuple[str, str]) -> None:
    assert (
        found_in("problem.curvature-jump", FAULTY, change, ("station: 90 m", "station: 95 m")) == []
    )


def test_one_path_is_told_once_whoever_follows_it() -> None:
    second = """  second:
    path: lane
    body: {length: 4.30 m, width: 1.80 m}
    limits: {speed: 130 km/h, accelerate: 3 m/s2, brake: 6 m/s2, jerk: 4 m/s3}
    programme: [{ramp: {to: 20 km/h}}, {stop: {}}]
encounters:
"""
    found = found_in("problem.curvature-jump", FAULTY, ("encounters:\n", second))
    assert [finding.code for finding in found] == ["problem.curvature-jump"]


def test_jumps_are_told_of_a_path_beside_another_too() -> None:
    beside = ("movers:\n", "  side: {beside: lane, offset: 3 m}\nmovers:\n")
    path = ("path: lane", "path: side")
    (finding,) = found_in("problem.curvature-jump", FAULTY, beside, path)
    # 3 m to the left of an arc to the left of 50 m.
    assert "path `side`: its curvature jumps from 0 to 1/47 m" in finding.text


def survey(folder: Path, points: list[tuple[float, float]]) -> Path:
    rows = "".join(f"{x:.4f},{y:.4f}\n" for x, y in points)
    (folder / "rough.csv").write_text(f"x_m,y_m\n{rows}", encoding="utf-8")
    return folder


def test_winding_survey_is_a_warning() -> None:
    (finding,) = found_in("problem.rough-survey", FAULTY)
    assert (finding.code, finding.severity) == ("problem.rough-survey", "warning")


def test_one_point_beside_the_road_is_told_where_it_is(tmp_path: Path) -> None:
    points = [(2.0 * i, 0.2 if i == 30 else 0.0) for i in range(61)]
    fast = ("to: 20 km/h", "to: 40 km/h")
    (finding,) = found_in("problem.rough-survey", survey(tmp_path, points), fast)
    assert "at station 60." in finding.text or "at station 59." in finding.text


def test_true_bend_is_not_called_rough_even_when_too_fast_for_it(tmp_path: Path) -> None:
    turn = [(60 + 20 * math.sin(i / 10), 20 - 20 * math.cos(i / 10)) for i in range(1, 20)]
    points = [(2.0 * i, 0.0) for i in range(31)] + turn
    fast = ("to: 20 km/h", "to: 60 km/h")
    near = ("station: 90 m", "station: 80 m")
    assert found_in("problem.rough-survey", survey(tmp_path, points), fast, near) == []


def test_bundled_survey_is_smooth() -> None:
    files = sorted(ROOT.glob("surveyed-*.yaml"))
    codes = [one.code for file in files for one in build_staging(load(file)).notes]
    assert len(files) == 2
    assert "problem.rough-survey" not in codes


STATIONS = [
    ("station: 320 m", "but its path ends at 300.000 m"),
    ("station: 320..340 m", "but its path ends at 300.000 m"),
    ("station: 20 m", "but it starts at 50.000 m"),
]


@pytest.mark.parametrize(("setting", "why"), STATIONS)
def test_station_out_of_reach_of_the_watched_mover_is_a_fault(setting: str, why: str) -> None:
    start = ("    programme:", "    start: {station: 50 m}\n    programme:")
    (finding,) = found_in("problem.trigger-outside", FAULTY, start, ("station: 320 m", setting))
    assert (finding.code, finding.severity) == ("problem.trigger-outside", "error")
    assert finding.text.endswith(why)


def test_who_stands_reaches_no_station() -> None:
    post = (
        "triggers:\n",
        "  post:\n    kind: obstacle\n    stand: {at: [200 m, 8 m]}\n    body: {length: 1 m, width: 1 m}\ntriggers:\n",
    )
    (finding,) = found_in(
        "problem.trigger-outside", FAULTY, post, ("watch: subject", "watch: post")
    )
    assert finding.text.endswith("but it stands all the time")
    assert finding.advice == "Watch a mover that drives."


@pytest.mark.parametrize("setting", ["station: free", "station: 300 m", "station: 200..320 m"])
def test_station_in_reach_is_fine(setting: str) -> None:
    assert found_in("problem.trigger-outside", FAULTY, ("station: 320 m", setting)) == []
