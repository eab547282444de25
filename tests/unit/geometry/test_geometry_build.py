"""Building paths: parallel curves, marks, and faults told all at once."""

import math
from collections.abc import Mapping
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from choreo.geometry import Path, build, build_paths
from choreo.geometry.curve import CurvePath
from choreo.words import ChoreoError, Origin
from tests.unit.geometry.made import beside, chain, line, piece, surveyed

WINDING = chain(
    line(50.0, name="run"),
    piece("clothoid", length_m=20.0, start_curvature_per_m=0.0, end_curvature_per_m=1 / 30),
    piece("arc", radius_m=30.0, angle_rad=1.0, name="bend"),
    piece("clothoid", length_m=30.0, start_curvature_per_m=1 / 30, end_curvature_per_m=-1 / 50),
)
POINTS = surveyed([(0, 0), (10, 1), (20, 3), (30, 2), (40, -5), (41, -15)])


def _codes(specs: Mapping[str, object]) -> list[str]:
    with pytest.raises(ChoreoError) as caught:
        build_paths(specs)
    assert all(finding.text and finding.advice for finding in caught.value.findings)
    return [finding.code for finding in caught.value.findings]


def _distance(path: Path, base: Path, s: float) -> float:
    at = path.pose(np.array([s]))
    foot = base.pose(np.array([base.nearest(float(at.x_m[0]), float(at.y_m[0]))]))
    return math.hypot(at.x_m[0] - foot.x_m[0], at.y_m[0] - foot.y_m[0])


@pytest.mark.parametrize("base", [WINDING, POINTS])
@pytest.mark.parametrize("reverse", [False, True])
def test_parallel_path_keeps_its_distance_and_goes_by_its_own_arc_length(
    base: object, reverse: bool
) -> None:
    paths = build_paths({"base": base, "next": beside("base", -2.0, reverse=reverse)})
    path = paths["next"]
    for s in np.linspace(0.0, path.length_m, 25):
        assert _distance(path, paths["base"], float(s)) == pytest.approx(2.0, abs=1e-9)
    poses = path.pose(np.linspace(0.0, path.length_m, 20001))
    chords = np.hypot(np.diff(poses.x_m), np.diff(poses.y_m))
    turns = np.diff(poses.heading_rad)
    arcs = chords / np.sinc(turns / (2 * np.pi))  # chord of an arc -> its length
    assert arcs.sum() == pytest.approx(path.length_m, abs=1e-7)


def test_reversed_parallel_path_starts_at_the_other_end_and_looks_back() -> None:
    paths = build_paths(
        {"base": WINDING, "there": beside("base", 1.0), "back": beside("base", 1.0, reverse=True)}
    )
    there, back = paths["there"], paths["back"]
    s = np.linspace(0.0, there.length_m, 40)
    one, other = there.pose(s), back.pose(there.length_m - s)
    assert one.x_m == pytest.approx(other.x_m, abs=1e-11)
    assert other.heading_rad - one.heading_rad == pytest.approx(np.full(40, math.pi), abs=1e-12)
    assert one.curvature_per_m == pytest.approx(-other.curvature_per_m, abs=1e-12)


def test_parallel_of_a_part_goes_on_straight_beyond_it() -> None:
    path = build_paths({"base": WINDING, "part": beside("base", 1.0, start=60.0, end=90.0)})["part"]
    pose = path.pose(np.array([-5.0, 0.0]))
    heading = pose.heading_rad[1]
    assert pose.x_m[0] == pytest.approx(pose.x_m[1] - 5.0 * math.cos(heading), abs=1e-12)
    assert pose.curvature_per_m[0] == 0.0


def test_parallel_of_a_parallel_is_the_parallel_at_the_sum_of_offsets() -> None:
    paths = build_paths(
        {
            "base": WINDING,
            "back": beside("base", 1.0, reverse=True, start=10.0),
            "twice": beside("back", 0.5),
            "sum": beside("base", 0.5, reverse=True, start=10.0),
        }
    )
    s = np.linspace(0.0, paths["sum"].length_m, 30)
    assert paths["twice"].pose(s).x_m == pytest.approx(paths["sum"].pose(s).x_m, abs=1e-9)
    assert paths["twice"].length_m == pytest.approx(paths["sum"].length_m, abs=1e-9)


def test_marks_carry_over_to_a_parallel_path_in_its_own_stations() -> None:
    paths = build_paths(
        {"base": WINDING, "there": beside("base", -2.0), "back": beside("base", -2.0, reverse=True)}
    )
    base = paths["base"]
    for name in ("there", "back"):
        start, end = paths[name].marks["bend"]
        assert end - start == pytest.approx(32.0, abs=1e-9)  # radius 30 + 2, 1 rad
        first, last = (
            base.pose(np.array(base.marks["bend"])),
            paths[name].pose(np.array([start, end])),
        )
        nearest = np.hypot(first.x_m - last.x_m[0], first.y_m - last.y_m[0]).min()
        assert nearest == pytest.approx(2.0, abs=1e-9)
    assert paths["there"].marks["run"] == (0.0, 50.0)


@pytest.mark.parametrize("spec", [WINDING, POINTS, "beside", "beside survey"])
def test_stretches_never_lie_below_the_true_curvature(spec: object) -> None:
    path = build_paths(
        {
            "base": WINDING,
            "points": POINTS,
            "beside": beside("base", -3.0, reverse=True),
            "beside survey": beside("points", 2.0),
            "own": spec if not isinstance(spec, str) else WINDING,
        }
    )["own" if not isinstance(spec, str) else spec]
    worst = 0.0
    assert path.stretches()[0][0] == pytest.approx(0.0, abs=1e-12)
    for start, end, k0, k1 in path.stretches():
        shares = np.linspace(1e-6, 1 - 1e-6, 37)
        true = path.pose(start + (end - start) * shares).curvature_per_m
        bound = np.abs(k0 + (k1 - k0) * shares)
        worst = max(worst, float((np.abs(true) - bound).max()))
        assert float(bound.max()) <= np.abs(true).max() * 1.1 + 1e-3
    assert worst <= 1e-12
    assert path.stretches()[-1][1] == pytest.approx(path.length_m, abs=1e-9)


def test_piece_stated_elsewhere_than_the_chain_leads_is_told_with_both_points() -> None:
    with pytest.raises(ChoreoError) as caught:
        build_paths(
            {"lane": chain(line(50.0), line(10.0, at_m=(50.0, 0.5)))},
            lambda *keys: Origin("x.yaml", len(keys), 1),
        )
    (finding,) = caught.value.findings
    assert finding.code == "geometry.pieces-apart"
    assert finding.values["distance"] == "0.500 m"
    assert finding.values["stated"] == "(50.000, 0.500) m"
    assert finding.values["reached"] == "(50.000, 0.000) m"
    assert finding.origin == Origin("x.yaml", 4, 1)


def _zigzag(count: int, off_m: float) -> SimpleNamespace:
    """Arcs to the left and to the right in turn, each stated where it begins, the last one off by so much."""
    radius, angle = 20.0, 0.5
    along, across = 2 * radius * math.sin(angle), 2 * radius * (1 - math.cos(angle))
    pieces = []
    for number in range(count):
        pairs, odd = divmod(number, 2)
        x = pairs * along + odd * radius * math.sin(angle)
        y = pairs * across + odd * radius * (1 - math.cos(angle))
        y += off_m if number == count - 1 else 0.0
        turn = -angle if odd else angle
        pieces.append(piece("arc", radius_m=radius, angle_rad=turn, at_m=(x, y)))
    return chain(*pieces)


def test_each_piece_is_gone_through_once_however_many_are_stated(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    laid: list[int] = []

    class Counted(CurvePath):
        def __init__(self, stretches: list[tuple[float, float, float]], *more: Any) -> None:
            laid.append(len(stretches))
            super().__init__(stretches, *more)

    monkeypatch.setattr(build, "CurvePath", Counted)
    path = build_paths({"lane": _zigzag(300, 0.009)})["lane"]
    assert path.length_m == pytest.approx(300 * 10.0)
    # Once for where each piece is to begin, and the whole path.
    assert sum(laid) == 299 + 300
    with pytest.raises(ChoreoError) as caught:
        build_paths({"lane": _zigzag(300, 0.011)})
    assert [one.values["distance"] for one in caught.value.findings] == ["0.011 m"]


def test_piece_stated_within_a_centimetre_is_accepted() -> None:
    paths = build_paths({"lane": chain(line(50.0), line(10.0, at_m=(50.009, 0.0)))})
    assert paths["lane"].length_m == 60.0


def test_offset_beyond_the_radius_is_refused_only_on_the_inner_side() -> None:
    specs = {"base": WINDING, "in": beside("base", 30.0), "out": beside("base", -30.0)}
    assert _codes(specs) == ["geometry.offset-too-tight"]


def test_offset_beyond_the_radius_is_fine_where_the_curve_is_left_out() -> None:
    paths = build_paths({"base": WINDING, "in": beside("base", 31.0, start=0.0, end=50.0)})
    assert paths["in"].length_m == pytest.approx(50.0)


def test_all_faults_of_all_paths_are_told_at_once() -> None:
    specs = {
        "a": chain(line(0.0), piece("bend", radius_m=9.0, angle_rad=0.5, clothoid_angle_rad=0.3)),
        "b": beside("nowhere", 1.0),
        "c": beside("d", 1.0),
        "d": beside("c", 1.0),
        "e": surveyed([(0, 0)]),
        "f": surveyed([(0, 0), (1, 0), (1, 0)]),
        "g": surveyed([(0, 0), (10, 0), (5, 0), (20, 0)]),
        "h": beside("i", 1.0, start=5.0, end=500.0),
        "i": chain(line(50.0)),
        "j": chain(line(5.0, name="x"), line(5.0, name="x")),
        "k": chain(
            piece(
                "bend",
                radius_m=9.0,
                angle_rad=1.5,
                clothoid_angle_rad=0.3,
                outer_curvature_per_m=1 / 8,
            )
        ),
    }
    assert _codes(specs) == [
        "geometry.piece-empty",
        "geometry.bend-too-short",
        "geometry.beside-unknown",
        "geometry.beside-loop",
        "geometry.survey-too-few",
        "geometry.survey-repeats",
        "geometry.survey-folds",
        "geometry.beside-range",
        "geometry.mark-twice",
        "geometry.bend-outer-tighter",
    ]


def test_marks_of_pieces_that_a_window_leaves_out_lie_beyond_its_ends() -> None:
    specs = {"base": WINDING, "there": beside("base", 0.0, start=20.0, end=60.0)}
    paths = build_paths(specs | {"back": beside("base", 0.0, reverse=True, start=20.0, end=60.0)})
    assert paths["base"].marks["run"] == (0.0, 50.0)
    assert paths["there"].marks["run"] == (-20.0, 30.0)
    assert paths["back"].marks["run"] == (10.0, 60.0)
