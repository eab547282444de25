"""Contacts: stations by hand where geometry is simple, and bodies placed by brute force everywhere."""

from __future__ import annotations

import math
import random
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import shapely

from choreo.geometry import (
    MeetingPoint,
    MeetingTrack,
    Path,
    build_paths,
    find_contact,
    nearest_overlap,
)
from choreo.words.kinds import Face
from tests.unit.geometry.made import (
    CAR,
    TARGET,
    WALKER,
    beside,
    built,
    chain,
    impact,
    line,
    piece,
    placed,
    straight,
)

LANE = straight(0, 0, 0, 400)
FROM_RIGHT = straight(310, -4, 90, 9)
FROM_LEFT = straight(310, 5, -90, 9)
TURN = built(
    chain(
        line(100.0),
        piece(
            "bend",
            radius_m=9.0,
            angle_rad=math.radians(90),
            clothoid_angle_rad=math.radians(20.62),
            outer_curvature_per_m=1 / 1500,
        ),
        line(50.0),
    )
)
ONCOMING = straight(300, 3.5, 180, 300)
OBLIQUE = straight(200, -50, 40, 100)
WINDING = built(
    chain(
        line(150.0),
        piece("clothoid", length_m=40.0, start_curvature_per_m=0.0, end_curvature_per_m=1 / 1500),
        piece("arc", radius_m=1500.0, angle_rad=0.1),
        line(30.0),
    )
)
CUT_IN = built(
    chain(line(100.0), piece("shift", offset_m=3.5, length_m=60.0), line(200.0), start=(0.0, -3.5))
)
STATION_M = 310 - 0.25 - 3.4  # the walker's near flank less the car's front


def _point(*found: object) -> MeetingPoint:
    (only,) = found
    assert isinstance(only, MeetingPoint)
    return only


def _track(*found: object) -> MeetingTrack:
    (only,) = found
    assert isinstance(only, MeetingTrack)
    return only


@pytest.mark.parametrize("overlap", [0.0, 0.25, 0.5, 0.75, 1.0])
def test_walker_from_the_right_is_met_where_arithmetic_says(overlap: float) -> None:
    lateral = (overlap - 0.5) * 1.8
    met = _point(*find_contact(LANE, CAR, FROM_RIGHT, WALKER, face="front", impact_m=lateral))
    assert met.station_a_m == pytest.approx(STATION_M, abs=1e-10)
    assert met.station_b_m == pytest.approx(4 + lateral, abs=1e-10)


@pytest.mark.parametrize("overlap", [0.0, 0.25, 0.5, 0.75, 1.0])
def test_walker_from_the_left_is_met_where_arithmetic_says(overlap: float) -> None:
    lateral = (overlap - 0.5) * 1.8
    met = _point(*find_contact(LANE, CAR, FROM_LEFT, WALKER, face="front", impact_m=lateral))
    assert met.station_a_m == pytest.approx(STATION_M, abs=1e-10)
    assert met.station_b_m == pytest.approx(5 - lateral, abs=1e-10)


@pytest.mark.parametrize("point", ["reference", "front centre", "rear centre"])
def test_meant_point_of_the_other_is_moved_by_its_overhang(point: str) -> None:
    ahead = {"reference": 0.0, "front centre": 0.3, "rear centre": -0.3}[point]
    met = _point(
        *find_contact(LANE, CAR, FROM_RIGHT, WALKER, face="front", impact_m=0.2, point=point)
    )
    assert met.station_b_m == pytest.approx(4.2 - ahead, abs=1e-10)


def test_same_lane_is_a_straight_track_bumper_to_bumper() -> None:
    track = _track(*find_contact(LANE, CAR, LANE, TARGET, face="front", impact_m=0.0))
    assert track.linear
    assert track.slope == pytest.approx(1.0, abs=1e-12)
    assert track.at(200.0)[0] == pytest.approx(200.0 - 1.0 - 3.4, abs=1e-10)
    assert (track.stations_b_m[0], track.stations_b_m[-1]) == pytest.approx((4.4, 400.0), abs=1e-9)
    assert track.stations_a_m.min() == pytest.approx(0.0, abs=1e-9)


def test_rear_end_with_offset_is_met_at_that_offset_only() -> None:
    aside = build_paths({"lane": chain(line(400.0)), "aside": beside("lane", -0.45)})["aside"]
    track = _track(*find_contact(LANE, CAR, aside, TARGET, face="front", impact_m=-0.45))
    assert track.at(100.0) == pytest.approx((95.6, 1.0), abs=1e-9)
    assert find_contact(LANE, CAR, aside, TARGET, face="front", impact_m=0.0) == ()


def test_head_on_in_a_lane_has_slope_minus_one() -> None:
    back = build_paths({"lane": chain(line(400.0)), "back": beside("lane", 0.0, reverse=True)})[
        "back"
    ]
    track = _track(*find_contact(LANE, CAR, back, TARGET, face="front", impact_m=0.0))
    assert track.linear
    assert track.at(100.0) == pytest.approx((400.0 - 100.0 - 3.0 - 3.4, -1.0), abs=1e-9)
    assert (track.stations_b_m[0], track.stations_b_m[-1]) == pytest.approx((0.0, 393.6), abs=1e-9)


def test_walker_along_the_lane_at_a_quarter_is_a_track() -> None:
    along = straight(100, -0.45, 0, 50)
    track = _track(*find_contact(LANE, CAR, along, WALKER, face="front", impact_m=-0.45))
    assert track.at(20.0) == pytest.approx((120 - 0.3 - 3.4, 1.0), abs=1e-9)


def test_shared_curved_lane_gives_a_track_that_is_no_line() -> None:
    found = find_contact(
        WINDING, CAR, WINDING, TARGET, face="front", impact_m=0.0, tolerance_m=0.05
    )
    tracks = [one for one in found if isinstance(one, MeetingTrack)]
    assert len(tracks) == len(found)
    bent = max(tracks, key=lambda one: one.error_m)
    assert not bent.linear
    assert 0.0 < bent.error_m <= 0.05
    for station_b in np.linspace(bent.stations_b_m[0], bent.stations_b_m[-1], 7):
        station_a, slope = bent.at(float(station_b))
        gap = shapely.Polygon(placed(WINDING, CAR, station_a)).distance(
            shapely.Polygon(placed(WINDING, TARGET, float(station_b)))
        )
        assert gap < 1e-7
        assert slope == pytest.approx(1.0, abs=0.01)


def test_slope_of_a_curved_track_is_its_derivative() -> None:
    found = find_contact(
        WINDING, CAR, WINDING, TARGET, face="front", impact_m=0.0, tolerance_m=0.05
    )
    bent = max((one for one in found if isinstance(one, MeetingTrack)), key=lambda one: one.error_m)
    middle = float(bent.stations_b_m.mean())
    step = 0.01
    secant = (bent.at(middle + step)[0] - bent.at(middle - step)[0]) / (2 * step)
    assert bent.at(middle)[1] == pytest.approx(secant, abs=1e-6)


def test_track_after_a_cut_in_begins_where_the_shift_has_ended() -> None:
    track = _track(*find_contact(LANE, CAR, CUT_IN, TARGET, face="front", impact_m=0.0))
    end = 100.0 + CUT_IN.length_m - 300.0
    assert track.stations_b_m[0] == pytest.approx(end, abs=0.1)
    assert track.stations_b_m[0] <= end + 1e-3


def test_cut_in_meets_a_corner_overlap_at_one_place_before() -> None:
    met = _point(*find_contact(LANE, CAR, CUT_IN, TARGET, face="front", impact_m=-0.5))
    assert 100.0 < met.station_b_m < 160.0
    _assert_meets(LANE, CAR, CUT_IN, TARGET, met, "front", -0.5, "reference")


def test_target_that_stands_as_wanted_is_met_and_else_is_not() -> None:
    at: dict[str, Any] = {"range_b_m": (4.0, 4.0), "face": "front"}
    met = _point(*find_contact(LANE, CAR, FROM_RIGHT, WALKER, impact_m=0.0, **at))
    assert (met.station_a_m, met.station_b_m) == pytest.approx((STATION_M, 4.0), abs=1e-9)
    assert find_contact(LANE, CAR, FROM_RIGHT, WALKER, impact_m=0.2, **at) == ()
    nearest = nearest_overlap(LANE, CAR, FROM_RIGHT, WALKER, impact_m=0.2, **at)
    assert nearest is not None
    assert nearest.impact_m == pytest.approx(0.0, abs=1e-9)


def test_subject_that_stands_is_met_by_an_oncoming_one() -> None:
    back = straight(400, 0.2, 180, 400)
    met = find_contact(LANE, CAR, back, TARGET, face="front", impact_m=0.2, range_a_m=(50.0, 50.0))
    only = _point(*met)
    assert (only.station_a_m, only.station_b_m) == pytest.approx(
        (50.0, 400 - 50 - 3.4 - 3), abs=1e-9
    )


def test_stations_outside_the_ranges_are_no_meetings() -> None:
    wanted: dict[str, Any] = {"face": "front", "impact_m": 0.0}
    assert find_contact(LANE, CAR, FROM_RIGHT, WALKER, range_a_m=(0.0, 300.0), **wanted) == ()
    assert find_contact(LANE, CAR, FROM_RIGHT, WALKER, range_b_m=(0.0, 3.9), **wanted) == ()
    assert find_contact(LANE, CAR, FROM_RIGHT, WALKER, range_a_m=(306.0, 307.0), **wanted) != ()


def test_nearest_overlap_tells_how_far_a_short_crossing_gets() -> None:
    nearest = nearest_overlap(
        LANE, CAR, FROM_RIGHT, WALKER, face="front", impact_m=0.5, range_b_m=(0.0, 4.1)
    )
    assert nearest is not None
    assert nearest.impact_m == pytest.approx(0.1, abs=1e-9)
    assert (nearest.station_a_m, nearest.station_b_m) == pytest.approx((STATION_M, 4.1), abs=1e-9)


def test_nearest_overlap_stops_where_the_bodies_just_graze() -> None:
    # Half widths 0.9 and 0.85: on parallel paths 1.7 m apart they overlap by 5 cm.
    aside = straight(0, 1.7, 0, 400)
    nearest = nearest_overlap(LANE, CAR, aside, TARGET, face="front", impact_m=0.0)
    assert nearest is not None
    assert nearest.impact_m == pytest.approx(1.7, abs=1e-9)


def test_paths_that_stay_apart_have_no_nearest_overlap() -> None:
    far = straight(0, 20, 0, 400)
    assert nearest_overlap(LANE, CAR, far, TARGET, face="front", impact_m=0.0) is None
    assert find_contact(LANE, CAR, far, TARGET, face="front", impact_m=0.0) == ()


@pytest.mark.parametrize(
    ("path", "station_b"), [(FROM_RIGHT, 4 - 0.9 - 0.3), (FROM_LEFT, 5 - 0.9 - 0.3)]
)
def test_side_impact_at_three_quarters_is_on_the_flank_the_other_comes_from(
    path: Path, station_b: float
) -> None:
    met = _point(*find_contact(LANE, CAR, path, WALKER, face="side", impact_m=0.75 * 4.3))
    assert met.station_a_m == pytest.approx(310 + 0.9 - 0.75 * 4.3, abs=1e-10)
    assert met.station_b_m == pytest.approx(station_b, abs=1e-10)
    _assert_meets(LANE, CAR, path, WALKER, met, "side", 0.75 * 4.3, "reference")


def test_a_path_that_passes_twice_has_two_meetings_in_the_order_of_its_stations() -> None:
    hairpin = built(chain(line(60.0), piece("arc", radius_m=10.0, angle_rad=math.pi), line(60.0)))
    across = straight(30, -10, 90, 45)
    found = find_contact(hairpin, CAR, across, WALKER, face="front", impact_m=0.0)
    assert [round(one.station_b_m, 6) for one in found if isinstance(one, MeetingPoint)] == [
        10.0,
        30.0,
    ]
    assert found[0].station_a_m < found[1].station_a_m  # type: ignore[union-attr]


def test_front_of_a_chamfered_body_is_met_on_its_slope() -> None:
    blunt = SimpleNamespace(
        corners_m=((-0.9, -0.9), (3.0, -0.9), (3.4, -0.5), (3.4, 0.5), (3.0, 0.9), (-0.9, 0.9)),
        length_m=4.3,
        width_m=1.8,
        front_m=3.4,
        rear_m=0.9,
    )
    met = _point(*find_contact(LANE, blunt, FROM_RIGHT, WALKER, face="front", impact_m=-0.95))
    # The walker reaches from y = -1.25 to -0.65; its left front corner meets the slope at y = -0.65.
    assert met.station_a_m == pytest.approx(310 - 0.25 - (3.4 - 0.15), abs=1e-10)
    _assert_meets(LANE, blunt, FROM_RIGHT, WALKER, met, "front", -0.95, "reference")


CASES = [
    ("right angle", LANE, FROM_RIGHT, WALKER, "front", 0.3),
    ("oblique", LANE, OBLIQUE, TARGET, "front", 0.0),
    ("oblique corner", LANE, OBLIQUE, TARGET, "front", -0.9),
    ("turn across", TURN, ONCOMING, TARGET, "front", 0.0),
    ("turn across, side of front", TURN, ONCOMING, TARGET, "front", 0.45),
    ("oblique side", LANE, OBLIQUE, WALKER, "side", 0.75 * 4.3),
    ("turn across side", TURN, ONCOMING, TARGET, "side", 0.75 * 4.3),
]


@pytest.mark.parametrize(("name", "path_a", "path_b", "other", "face", "impact_m"), CASES)
@pytest.mark.parametrize("point", ["reference", "front centre"])
def test_bodies_placed_at_a_meeting_touch_as_wanted_and_part_when_moved_back(
    name: str,
    path_a: Path,
    path_b: Path,
    other: SimpleNamespace,
    face: str,
    impact_m: float,
    point: str,
) -> None:
    found = find_contact(path_a, CAR, path_b, other, face=face, impact_m=impact_m, point=point)
    assert found, name
    for met in found:
        assert isinstance(met, MeetingPoint)
        _assert_meets(path_a, CAR, path_b, other, met, face, impact_m, point)


# Of these seeds nobody is touched so.
APART = (7, 8, 16, 28)


@pytest.mark.parametrize("seed", [seed for seed in range(25) if seed not in APART])
def test_random_paths_meet_only_where_bodies_touch_as_wanted(seed: int) -> None:
    rng = random.Random(seed)
    path_a, path_b = _random_pair(rng)
    face = rng.choice(["front", "side"])
    impact_m = rng.uniform(-0.9, 0.9) if face == "front" else rng.uniform(0.2, 4.0)
    other = rng.choice([TARGET, WALKER])
    found = find_contact(path_a, CAR, path_b, other, face=face, impact_m=impact_m)
    points = [one for one in found if isinstance(one, MeetingPoint)]
    assert points
    assert points == sorted(points, key=lambda one: one.station_a_m)
    for met in points:
        _assert_meets(path_a, CAR, path_b, other, met, face, impact_m, "reference")


@pytest.mark.parametrize("seed", [25, 27, 29, 30])
def test_random_paths_meet_everywhere_a_dense_search_finds_them(seed: int) -> None:
    path_a, path_b = _random_pair(random.Random(seed))
    found = find_contact(path_a, CAR, path_b, TARGET, face="front", impact_m=0.3)
    stations = [(m.station_a_m, m.station_b_m) for m in found if isinstance(m, MeetingPoint)]
    meetings = _dense_meetings(path_a, path_b, 0.3)
    assert meetings
    for expected in meetings:
        assert any(math.dist(expected, one) < 0.3 for one in stations)


def _random_path(rng: random.Random) -> SimpleNamespace:
    side = rng.choice([-1, 1])
    makers = [
        lambda: line(rng.uniform(10, 30)),
        lambda: piece("arc", radius_m=rng.uniform(10, 60), angle_rad=side * rng.uniform(0.2, 1.5)),
        lambda: piece("shift", offset_m=side * 3.5, length_m=rng.uniform(20, 50)),
        lambda: piece(
            "clothoid",
            length_m=rng.uniform(10, 30),
            start_curvature_per_m=0.0,
            end_curvature_per_m=side * 0.05,
        ),
    ]
    return chain(
        line(8.0),
        *(rng.choice(makers)() for _ in range(rng.randint(1, 3))),
        heading_rad=rng.uniform(-3, 3),
    )


def _random_pair(rng: random.Random) -> tuple[Path, Path]:
    """Two paths that come through one place."""
    path_a, spec = built(_random_path(rng)), _random_path(rng)
    draft = built(spec)
    at = path_a.pose(np.array([path_a.length_m * rng.uniform(0.3, 0.9)]))
    by = draft.pose(np.array([draft.length_m * rng.uniform(0.3, 0.9)]))
    spec.start_m = (float(at.x_m[0] - by.x_m[0]), float(at.y_m[0] - by.y_m[0]))
    return path_a, built(spec)


def _assert_meets(
    path_a: Path,
    a: SimpleNamespace,
    path_b: Path,
    b: SimpleNamespace,
    met: MeetingPoint,
    face: str,
    impact_m: float,
    point: str,
) -> None:
    """Bodies touch and don't overlap, the point is where it should be, and before they were apart."""
    one, other = (
        shapely.Polygon(placed(path, thing, station))
        for path, thing, station in ((path_a, a, met.station_a_m), (path_b, b, met.station_b_m))
    )
    assert one.distance(other) < 1e-7
    assert one.intersection(other).area < 1e-7
    x, y = impact(path_a, met.station_a_m, path_b, met.station_b_m, b, point)
    assert (y if face == "front" else x + a.rear_m) == pytest.approx(impact_m, abs=1e-9)
    rng = random.Random(1)
    ratios = [0.0, 1.0, *(rng.random() for _ in range(20))]
    apart = 0.0
    for ratio in ratios:
        back_a = placed(path_a, a, met.station_a_m - 0.002 * ratio)
        back_b = placed(path_b, b, met.station_b_m - 0.002 * (1 - ratio))
        apart = max(apart, shapely.Polygon(back_a).distance(shapely.Polygon(back_b)))
    assert apart > 1e-5


def _clipped_least_x(polygon: np.ndarray, half_m: float) -> float:
    """Least x of a polygon within |y| <= half_m, inf without any."""
    strip = shapely.box(-100, -half_m, 100, half_m)
    part = shapely.Polygon(polygon).intersection(strip)
    return float("inf") if part.area < 1e-6 else float(part.bounds[0])


def _dense_meetings(path_a: Path, path_b: Path, impact_m: float) -> list[tuple[float, float]]:
    """Meetings found by trying stations every few decimetres with another way to measure the room."""
    s_a, s_b = np.arange(0, path_a.length_m, 0.25), np.arange(0, path_b.length_m, 0.1)
    touches: list[tuple[int, float, float]] = []
    for number, station_b in enumerate(s_b):
        rooms, misfits = _rooms(path_a, s_a, path_b, float(station_b), impact_m)
        for i in np.flatnonzero((rooms[:-1] > 0) & (rooms[1:] <= 0) & (rooms[:-1] < 0.6)):
            share = rooms[i] / (rooms[i] - rooms[i + 1])
            misfit = misfits[i] + share * (misfits[i + 1] - misfits[i])
            touches.append((number, float(s_a[i] + 0.25 * share), float(misfit)))
    return [
        (station, float(s_b[number]))
        for number, station, misfit in touches
        for after, then, later in touches
        if after == number + 1 and abs(then - station) < 0.4 and misfit * later < 0
    ]


def _rooms(
    path_a: Path, s_a: np.ndarray, path_b: Path, station_b: float, impact_m: float
) -> tuple[np.ndarray, np.ndarray]:
    b, a = path_b.pose(np.array([station_b])), path_a.pose(s_a)
    corners = placed(path_b, TARGET, station_b)
    rooms, misfits = np.full(len(s_a), np.inf), np.full(len(s_a), np.nan)
    near = np.flatnonzero(np.hypot(a.x_m - b.x_m[0], a.y_m - b.y_m[0]) < 7.5)
    for i in near:
        cos, sin = np.cos(a.heading_rad[i]), np.sin(a.heading_rad[i])
        to_frame = np.array([[cos, sin], [-sin, cos]])
        origin = np.array([a.x_m[i], a.y_m[i]])
        rooms[i] = _clipped_least_x((corners - origin) @ to_frame.T, 0.9) - 3.4
        misfits[i] = (to_frame @ (np.array([b.x_m[0], b.y_m[0]]) - origin))[1] - impact_m
    return rooms, misfits


@pytest.mark.parametrize("face", ["front", "side"])
@pytest.mark.parametrize("range_a_m", [(0.0, 400.0), (120.0, 350.0), (60.0, 60.0)])
@pytest.mark.parametrize("range_b_m", [(0.0, 400.0), (90.0, 200.0), (150.0, 150.0)])
def test_on_one_straight_path_contacts_are_those_that_a_sweep_finds(
    face: Face, range_a_m: tuple[float, float], range_b_m: tuple[float, float]
) -> None:
    """A sweep looks at two paths that lie on each other metre by metre; one path is seen to be the same everywhere."""
    asked: dict[str, Any] = {"face": face, "range_a_m": range_a_m, "range_b_m": range_b_m}
    found, swept = (
        find_contact(LANE, CAR, other, TARGET, impact_m=0.0, **asked)
        for other in (LANE, straight(0, 0, 0, 400))
    )
    assert _ends(found) == pytest.approx(_ends(swept), abs=1e-9)


def _ends(found: tuple[MeetingPoint | MeetingTrack, ...]) -> list[float]:
    """Stations of both, of tracks those at both ends and the slope."""
    numbers: list[float] = []
    for one in found:
        if isinstance(one, MeetingPoint):
            numbers += [one.station_a_m, one.station_b_m]
        else:
            stations = (*one.stations_a_m[[0, -1]], *one.stations_b_m[[0, -1]])
            numbers += [*map(float, stations), one.slope]
    return numbers
