"""What holds for every path and every contact: lengths, continuity, mirrors, motions of the plane."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from choreo.geometry import MeetingPoint, Path, build_paths, conflict_zone, find_contact
from tests.unit.geometry.made import CAR, TARGET, beside, built, chain, line, piece

SIDES = st.sampled_from([-1.0, 1.0])
LINES = st.builds(line, st.floats(1.0, 60.0))
ARCS = st.builds(
    lambda radius, angle, side: piece("arc", radius_m=radius, angle_rad=side * angle),
    st.floats(8.0, 500.0),
    st.floats(0.05, 2.0),
    SIDES,
)
CLOTHOIDS = st.builds(
    lambda length, k0, k1: piece(
        "clothoid", length_m=length, start_curvature_per_m=k0, end_curvature_per_m=k1
    ),
    st.floats(1.0, 60.0),
    st.floats(-0.1, 0.1),
    st.floats(-0.1, 0.1),
)
SHIFTS = st.builds(
    lambda offset, length, side: piece("shift", offset_m=side * offset, length_m=length),
    st.floats(0.1, 5.0),
    st.floats(12.0, 90.0),
    SIDES,
)
BENDS = st.builds(
    lambda radius, angle, share, side: piece(
        "bend",
        radius_m=radius,
        angle_rad=side * angle,
        clothoid_angle_rad=share * angle,
        outer_curvature_per_m=1 / 1500,
    ),
    st.floats(8.0, 60.0),
    st.floats(0.2, 1.6),
    st.floats(0.05, 0.5),
    SIDES,
)
PIECES = st.lists(st.one_of(LINES, ARCS, CLOTHOIDS, SHIFTS, BENDS), min_size=1, max_size=4)
PLACES = st.tuples(st.floats(-200.0, 200.0), st.floats(-200.0, 200.0))
HEADINGS = st.floats(-math.pi, math.pi)
SPECS = st.builds(
    lambda pieces, start, heading: chain(*pieces, start=start, heading_rad=heading),
    PIECES,
    PLACES,
    HEADINGS,
)
SIGNED = ("angle_rad", "start_curvature_per_m", "end_curvature_per_m", "offset_m")


@given(SPECS)
@settings(max_examples=30, deadline=None)
def test_station_is_the_sum_of_ever_shorter_chords(spec: SimpleNamespace) -> None:
    path = built(spec)
    poses = path.pose(np.linspace(0.0, path.length_m, 8001))
    chords = np.hypot(np.diff(poses.x_m), np.diff(poses.y_m)).sum()
    # A chord is shorter than its arc by k^2 ds^3 / 24.
    step = path.length_m / 8000
    assert chords <= path.length_m + 1e-9
    assert chords == pytest.approx(
        path.length_m, abs=path.length_m * (0.15 * step) ** 2 / 24 + 1e-9
    )


@given(SPECS)
@settings(max_examples=30, deadline=None)
def test_heading_is_continuous_and_turns_with_the_curvature(spec: SimpleNamespace) -> None:
    path = built(spec)
    poses = path.pose(np.linspace(-5.0, path.length_m + 5.0, 3001))
    step = (path.length_m + 10.0) / 3000
    tightest = max(abs(k) for part in path.stretches() for k in part[2:])
    assert float(np.abs(np.diff(poses.heading_rad)).max()) <= tightest * step + 1e-12
    along = np.cos(poses.heading_rad[:-1]) * np.diff(poses.x_m)
    along += np.sin(poses.heading_rad[:-1]) * np.diff(poses.y_m)
    assert along == pytest.approx(np.full(3000, step), abs=step * (tightest * step) ** 2 + 1e-10)


@given(SPECS, st.floats(-4.0, 4.0), st.booleans())
@settings(max_examples=30, deadline=None)
def test_parallel_path_stays_at_its_distance(
    spec: SimpleNamespace, offset: float, back: bool
) -> None:
    assume(abs(offset) > 0.01)
    paths = build_paths({"base": spec, "next": beside("base", offset, reverse=back)})
    base, path = paths["base"], paths["next"]
    s = np.linspace(0.0, path.length_m, 23)
    at = path.pose(s)
    sign = -1.0 if back else 1.0
    foot_x = at.x_m + sign * offset * np.sin(at.heading_rad)
    foot_y = at.y_m - sign * offset * np.cos(at.heading_rad)
    # The foot lies on the base at the station that the arc length of parallels tells.
    low, high = np.zeros_like(s), np.full_like(s, base.length_m)
    wanted = path.length_m - s if back else s
    for _ in range(60):
        middle = (low + high) / 2
        heading = base.pose(middle).heading_rad
        own = middle - offset * (heading - base.pose(np.array([0.0])).heading_rad)
        low, high = np.where(own < wanted, middle, low), np.where(own < wanted, high, middle)
    on_base = base.pose(low)
    assert foot_x == pytest.approx(on_base.x_m, abs=1e-9)
    assert foot_y == pytest.approx(on_base.y_m, abs=1e-9)


@given(SPECS, st.floats(-30.0, 30.0), st.floats(-0.9, 0.9))
@settings(max_examples=30, deadline=None)
def test_nearest_station_of_a_point_beside_a_path_is_no_farther_than_that_point(
    spec: SimpleNamespace, along: float, aside: float
) -> None:
    path = built(spec)
    at = path.pose(np.array([along]))
    x = float(at.x_m[0] - aside * np.sin(at.heading_rad[0]))
    y = float(at.y_m[0] + aside * np.cos(at.heading_rad[0]))
    foot = path.pose(np.array([path.nearest(x, y)]))
    assert math.hypot(foot.x_m[0] - x, foot.y_m[0] - y) <= abs(aside) + 1e-9


def _pair(spec_a: SimpleNamespace, spec_b: SimpleNamespace, share: float) -> tuple[Path, Path]:
    """Both paths, the second moved so that they share a place."""
    path_a, draft = built(spec_a), built(spec_b)
    at, by = (
        path_a.pose(np.array([share * path_a.length_m])),
        draft.pose(np.array([draft.length_m / 2])),
    )
    spec_b.start_m = (
        spec_b.start_m[0] + float(at.x_m[0] - by.x_m[0]),
        spec_b.start_m[1] + float(at.y_m[0] - by.y_m[0]),
    )
    return path_a, built(spec_b)


def _moved(spec: SimpleNamespace, turn: float, by: tuple[float, float]) -> SimpleNamespace:
    x, y = spec.start_m
    cos, sin = math.cos(turn), math.sin(turn)
    start = (cos * x - sin * y + by[0], sin * x + cos * y + by[1])
    return chain(*spec.pieces, start=start, heading_rad=spec.heading_rad + turn)


def _mirrored(spec: SimpleNamespace) -> SimpleNamespace:
    pieces = []
    for one in spec.pieces:
        turned = {key: -value for key in SIGNED if (value := getattr(one, key)) is not None}
        pieces.append(SimpleNamespace(**(vars(one) | turned)))
    x, y = spec.start_m
    return chain(*pieces, start=(x, -y), heading_rad=-spec.heading_rad)


def _stations(found: tuple[object, ...]) -> list[tuple[float, float]]:
    return [(m.station_a_m, m.station_b_m) for m in found if isinstance(m, MeetingPoint)]


@given(SPECS, SPECS, st.floats(0.2, 0.9), HEADINGS, PLACES, st.sampled_from(["front", "side"]))
@settings(max_examples=12, deadline=None)
def test_contacts_and_zones_do_not_change_when_everything_is_moved_and_turned(
    spec_a: SimpleNamespace,
    spec_b: SimpleNamespace,
    share: float,
    turn: float,
    by: tuple[float, float],
    face: str,
) -> None:
    path_a, path_b = _pair(spec_a, spec_b, share)
    moved_a, moved_b = built(_moved(spec_a, turn, by)), built(_moved(spec_b, turn, by))
    impact_m = 0.37 if face == "front" else 2.9
    here = find_contact(path_a, CAR, path_b, TARGET, face=face, impact_m=impact_m)
    there = find_contact(moved_a, CAR, moved_b, TARGET, face=face, impact_m=impact_m)
    assert np.ravel(_stations(there)) == pytest.approx(np.ravel(_stations(here)), abs=1e-6)
    zone, other = (
        conflict_zone(a, CAR, b, TARGET) for a, b in ((path_a, path_b), (moved_a, moved_b))
    )
    assert (zone is None) == (other is None)
    if zone is not None and other is not None:
        assert tuple(other) == pytest.approx(tuple(zone), abs=1e-6)


@given(SPECS, SPECS, st.floats(0.2, 0.9), st.floats(-0.8, 0.8))
@settings(max_examples=20, deadline=None)
def test_mirrored_paths_have_the_mirrored_contacts(
    spec_a: SimpleNamespace, spec_b: SimpleNamespace, share: float, impact_m: float
) -> None:
    path_a, path_b = _pair(spec_a, spec_b, share)
    mirror_a, mirror_b = built(_mirrored(spec_a)), built(_mirrored(spec_b))
    here = find_contact(path_a, CAR, path_b, TARGET, face="front", impact_m=impact_m)
    there = find_contact(mirror_a, CAR, mirror_b, TARGET, face="front", impact_m=-impact_m)
    assert np.ravel(_stations(there)) == pytest.approx(np.ravel(_stations(here)), abs=1e-6)
