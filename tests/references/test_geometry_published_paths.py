"""Paths against published tables.

EN-FC: Euro NCAP, Crash Avoidance - Frontal Collisions protocol v1.1 (October 2025). EN-VA: Euro NCAP,
Safe Driving - Vehicle Assistance protocol v1.1 (October 2025). I3888: ISO 3888-1 and -2. Ids C.. are
those of the project's list of published check values; SEEN means the figure was read in the document.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from choreo.geometry import MeetingPoint, Path, find_contact
from tests.unit.geometry.made import CAR, WALKER, body, built, chain, impact, line, piece, straight

# EN-FC 1.2.4, SEEN: inner radius m, clothoid angle deg, arc angle deg. Outer radius 1500 m throughout.
# Derived from them: end x = y m, clothoid length m, total m.
TURNS = [
    (9.00, 20.62, 48.75, 12.380, 6.439, 20.536),
    (11.75, 20.93, 48.14, 16.217, 8.518, 26.908),
    (14.75, 21.79, 46.42, 20.577, 11.110, 34.170),
    (8.00, 22.85, 44.30, 11.351, 6.347, 18.880),
]


def _turn(radius_m: float, clothoid_deg: float, arc_deg: float, side: float = 1.0) -> Path:
    total = math.radians(2 * clothoid_deg + arc_deg)
    return built(
        chain(
            piece(
                "bend",
                name="turn",
                radius_m=radius_m,
                angle_rad=side * total,
                clothoid_angle_rad=math.radians(clothoid_deg),
                outer_curvature_per_m=1 / 1500,
            )
        )
    )


@pytest.mark.parametrize("turn", TURNS)
@pytest.mark.parametrize("side", [1.0, -1.0])
def test_published_turning_paths_end_where_the_table_says(turn: tuple, side: float) -> None:  # type: ignore[type-arg]
    # C23, SEEN: 90 deg within 0.02, end x = y within 5 mm, length within 2 mm.
    radius, clothoid, arc, end, _, total = turn
    path = _turn(radius, clothoid, arc, side)
    pose = path.pose(np.array([path.length_m]))
    assert math.degrees(pose.heading_rad[0]) == pytest.approx(side * 90.0, abs=0.02)
    assert (pose.x_m[0], side * pose.y_m[0]) == pytest.approx((end, end), abs=0.005)
    assert path.length_m == pytest.approx(total, abs=0.002)


@pytest.mark.parametrize("turn", TURNS)
def test_published_clothoids_have_the_length_of_their_angle(turn: tuple) -> None:  # type: ignore[type-arg]
    # C24, SEEN: 2 alpha / (1/1500 + 1/R2), within 2 mm.
    radius, clothoid, arc, _, length, _ = turn
    first = _turn(radius, clothoid, arc).stretches()[0]
    assert first[1] - first[0] == pytest.approx(length, abs=0.002)


# Cut-in and head-on lane changes, EN-VA 2.1.4 and 2.1.5, EN-FC 3.1.1.2, SEEN: length m, radius m, offset m.
# C32 (SEEN): two plain arcs are sqrt(4 R o - o^2) long straight ahead, along them within 3.5 % of the table.
LANE_CHANGES = [(14.5, 15.0, 3.5, 14.06), (44.0, 130.0, 3.5, 42.52), (60.0, 250.0, 3.5, 59.06)]


@pytest.mark.parametrize(("length", "radius", "offset", "two_arcs"), LANE_CHANGES)
def test_published_lane_changes_are_a_little_longer_than_two_arcs(
    length: float, radius: float, offset: float, two_arcs: float
) -> None:
    plain = built(chain(piece("shift", offset_m=offset, length_m=two_arcs, transition_m=0.0)))
    assert 1 / plain.stretches()[0][2] == pytest.approx(radius, rel=0.002)
    assert plain.length_m == pytest.approx(length, rel=0.035)
    published = built(chain(piece("shift", offset_m=offset, length_m=length, radius_m=radius)))
    end = published.pose(np.array([published.length_m]))
    assert (end.x_m[0], end.y_m[0]) == pytest.approx((length, offset), abs=1e-9)
    tightest = max(abs(k) for part in published.stretches() for k in part[2:])
    assert tightest == pytest.approx(1 / radius, rel=1e-9)


@pytest.mark.parametrize(
    "lateral",
    [-1.35, -0.90, -0.45, 0.0, 0.45, 0.90, 1.35],
    ids=["-25", "0", "25", "50", "75", "100", "125"],
)
def test_published_impact_locations_lie_at_their_lateral_offset(lateral: float) -> None:
    # C35, SEEN (EN-FC 1.2.5): lateral offset, left positive, W 1.8 m, within 1e-6 m. Locations beyond the car's
    # width are met by a target as wide as the car.
    lane, other = straight(0, 0, 0, 400), body(4.0, 1.8)
    crossing = straight(310, -20, 90, 40)
    (met,) = find_contact(lane, CAR, crossing, other, face="front", impact_m=lateral)
    assert isinstance(met, MeetingPoint)
    y = impact(lane, met.station_a_m, crossing, met.station_b_m, other, "reference")[1]
    assert y == pytest.approx(lateral, abs=1e-6)
    assert met.station_b_m == pytest.approx(20 + lateral, abs=1e-6)


def test_published_crossing_walker_meets_half_the_width_after_the_near_side() -> None:
    # C35 at 0 and 50 %: half of 1.8 m lies between the two stations of a crossing walker.
    lane, crossing = straight(0, 0, 0, 400), straight(310, -6, 90, 12)
    near, middle = (
        find_contact(lane, CAR, crossing, WALKER, face="front", impact_m=lateral)[0]
        for lateral in (-0.9, 0.0)
    )
    assert middle.station_b_m - near.station_b_m == pytest.approx(0.9, abs=1e-6)  # type: ignore[union-attr]


def test_obstacle_avoidance_track_has_its_total_length_and_shift() -> None:
    # C50: 61.0 m SEEN (I3888-2 cl. 4.1); sections 12/13.5/11/12.5/12 m and the shift SEEN-2; b = 1.8 m.
    offset = 3.515
    path = built(
        chain(
            line(12.0),
            piece("shift", offset_m=offset, length_m=13.5),
            line(11.0),
            piece("shift", offset_m=-offset, length_m=12.5),
            line(12.0),
        )
    )
    middle = path.pose(np.array([path.nearest(31.0, offset)]))
    end = path.pose(np.array([path.length_m]))
    assert (end.x_m[0], end.y_m[0]) == pytest.approx((61.0, 0.0), abs=1e-9)
    assert (middle.y_m[0], middle.heading_rad[0]) == pytest.approx((offset, 0.0), abs=1e-9)


def test_double_lane_change_track_has_its_total_length() -> None:
    # C50: part 1, sections 15/30/25/25/15 m = 110 m (SEEN-2) and a 15 m exit = 125 m (MEMORY); 3.5 m aside.
    path = built(
        chain(
            line(15.0),
            piece("shift", offset_m=3.5, length_m=30.0),
            line(25.0),
            piece("shift", offset_m=-3.5, length_m=25.0),
            line(15.0),
            line(15.0),
        )
    )
    end = path.pose(np.array([path.length_m]))
    assert (end.x_m[0], end.y_m[0]) == pytest.approx((125.0, 0.0), abs=1e-9)
