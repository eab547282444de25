"""Courses laid out from standards: cones, widths, circles, forms, sine with dwell, banking, against worked values.

Each test says by its number in SOURCES.md what it compares with.
"""

import math
import re
from pathlib import Path

import numpy as np
import pytest

from choreo.case import answer, case_of
from choreo.courses import Sizes, banking, forms, lay_out, sine_with_dwell, steady
from choreo.courses.straights import departure_m, departure_radius_m
from choreo.geometry import CurvePath, build_paths, felt_mps2
from choreo.plans.record import Plan
from choreo.scenario import loads
from choreo.verification.sideways import sideways_mps2

KMH = 1 / 3.6


def cones(name: str, **sizes: object) -> dict[str, list[tuple[float, float, float]]]:
    """By lane: x, right and left edge in m of each pair of cones; the course begins at x = 0."""
    course = lay_out(name, Sizes(run_up_m=0.0, **sizes)).course  # type: ignore[arg-type]
    places = {cone.name: (cone.x_m, cone.y_m) for cone in course.cones}
    found: dict[str, list[tuple[float, float, float]]] = {}
    for cone, (x, y) in places.items():
        lane, side, number = cone.split(" ")
        if side == "right":
            left = places[f"{lane} left {number}"]
            assert left[0] == x
            found.setdefault(lane, []).append((x, y, left[1]))
    return found


@pytest.mark.parametrize(
    ("width", "last", "edges"),
    [
        # C135
        (1.80, 3.0, [(-1.115, 1.115), (2.115, 4.915), (-1.115, 1.885)]),
        (1.80, 1.3 * 1.80 + 0.25, [(-1.115, 1.115), (2.115, 4.915), (-1.115, 1.475)]),
        # C136
        (2.16, 1.3 * 2.16 + 0.25, [(-1.313, 1.313), (2.313, 5.473), (-1.313, 1.745)]),
    ],
)
def test_obstacle_avoidance(width: float, last: float, edges: list[tuple[float, float]]) -> None:
    found = cones("ISO 3888-2", vehicle_width_m=width, last_width_m=last)
    stations = [(0.0, 6.0, 12.0), (25.5, 31.0, 36.5), (49.0, 55.0, 61.0)]
    for lane, along, (right, left) in zip(found.values(), stations, edges, strict=True):
        assert [x for x, _, _ in lane] == pytest.approx(along)
        for _, y_right, y_left in lane:
            assert (y_right, y_left) == pytest.approx((right, left), abs=1e-3)
    mirrored = cones("ISO 3888-2", vehicle_width_m=width, last_width_m=last, turn="right")
    assert mirrored["section3"][0][1:] == pytest.approx((-edges[1][1], -edges[1][0]), abs=1e-3)


@pytest.mark.parametrize(
    ("reading", "near", "far"),
    [
        # C137
        ("right edge to right edge", 2.385, 4.795),
        ("centre to near edge", 3.500, 5.910),
        ("centre to centre", 2.295, 4.705),
    ],
)
def test_severe_lane_change_by_reading(reading: str, near: float, far: float) -> None:
    found = cones("ISO 3888-1", vehicle_width_m=1.80, offset_read_as=reading)
    assert [(lane[0][0], lane[-1][0]) for lane in found.values()] == [(0, 15), (45, 70), (95, 110)]
    assert found["section3"][0][1:] == pytest.approx((near, far), abs=1e-3)
    widths = [lane[0][2] - lane[0][1] for lane in found.values()]
    assert widths == pytest.approx([2.23, 2.41, 2.59])


def test_winter_form() -> None:
    # C138
    found = cones("winter lane change", vehicle_width_m=1.8, offset_read_as="centre to centre")
    widths = [lane[0][2] - lane[0][1] for lane in found.values()]
    assert widths == pytest.approx([3.23, 3.41, 3.59])
    assert found["section5"][-1][0] == pytest.approx(110.0)
    for lane in found.values():
        assert np.diff([x for x, _, _ in lane]).max() <= 5.0


def test_steady_circle_speeds_and_lap() -> None:
    # C139
    rows = {100: (36.00, 101.82), 40: (22.77, 64.40), 30: (19.72, 55.77)}
    for radius, (slow, fast) in rows.items():
        assert steady.speed_mps(radius, 1.0) / KMH == pytest.approx(slow, abs=0.01)
        assert steady.speed_mps(radius, 8.0) / KMH == pytest.approx(fast, abs=0.01)
    # C140
    lap = 2 * math.pi * 100
    assert (lap, lap / steady.speed_mps(100.0, 4.0)) == pytest.approx((628.32, 31.42), abs=0.01)


def test_bicycle_model() -> None:
    car = steady.Bicycle(1500.0, 1.2, 1.5, 80e3, 90e3)
    # C141
    assert car.understeer == pytest.approx(0.00300926, abs=1e-8)
    assert math.degrees(car.understeer) * 9.80665 == pytest.approx(1.69084, abs=1e-4)
    assert car.characteristic_mps / KMH == pytest.approx(107.834, abs=1e-3)
    # C142
    angles = [math.degrees(car.wheel_rad(100.0, lateral)) for lateral in (2.0, 4.0, 6.0)]
    assert angles == pytest.approx([1.89182, 2.23666, 2.58149], abs=1e-4)
    # C143
    assert car.slope(80 * KMH) == pytest.approx(0.0084768, abs=1e-6)
    assert car.yaw_gain(80 * KMH) == pytest.approx(5.30863, abs=1e-4)


def test_sine_with_dwell() -> None:
    # C144
    times = list(sine_with_dwell.TIMES_S)
    assert times == pytest.approx([0.35714, 1.07143, 1.57143, 1.92857], abs=1e-5)
    shape = [sine_with_dwell.steering(t) for t in (*sine_with_dwell.TIMES_S[:3], 1.3, 2.0)]
    assert shape == pytest.approx([1.0, -1.0, -1.0, -1.0, 0.0])
    # C145
    rates = [sine_with_dwell.most_rate(amplitude) for amplitude in (270.0, 300.0)]
    assert rates == pytest.approx([1187.5, 1319.5], abs=0.1)
    # C146
    table = {
        25: (20, 13),
        30: (16, 9),
        35: (14, 7),
        40: (12, 5),
        45: (11, 4),
        50: (10, 3),
        60: (8, 1),
    }
    for angle, (runs, of_five) in table.items():
        series = sine_with_dwell.amplitudes_deg(angle)
        assert (len(series), sum(one >= 5 * angle - 1e-9 for one in series)) == (runs, of_five)
    # C147
    assert [2 * y / 1.07**2 for y in (1.83, 1.52)] == pytest.approx([3.1968, 2.6553], abs=1e-3)
    # C148
    assert sine_with_dwell.displacement_m(7.0, 1.07) == pytest.approx(2.0648, abs=1e-3)
    # C149
    slow = sine_with_dwell.slowly_increasing(50.0, 80 * KMH)
    assert slow == pytest.approx((3.704, 82.30), abs=0.01)


def test_forms_of_a_lane_change() -> None:
    # C151
    assert forms.weave(2.0, 0.2, 100 * KMH) == pytest.approx((1.2665, 138.9), abs=0.02)
    # C152
    assert forms.slalom(18.0, 60 * KMH, 1.0) == pytest.approx((0.463, 8.46), abs=0.01)
    # C153
    wanted = {
        "two arcs": (1.5556, math.inf),
        "cosine": (1.9191, 2.0097),
        "quintic": (2.2453, 7.7778),
        "cycloid": (2.4435, 5.1176),
    }
    for name, figures in wanted.items():
        assert forms.FORMS[name].needs(3.5, 3.0) == pytest.approx(figures, abs=1e-3)
    assert forms.FORMS["septic"].acceleration == pytest.approx(7.51319, abs=1e-5)
    # C154
    rows = {(15, 14.5): (21.965, 3.536), (250, 60): (5.6767, 10.595), (130, 44): (7.2397, 11.325)}
    for (radius, length), (angle, straight) in rows.items():
        found = forms.arcs_and_straight(3.5, length, radius)
        assert (math.degrees(found[0]), found[1]) == pytest.approx((angle, straight), abs=2e-3)
    # C161
    bends = [forms.two_arcs_per_m(3.5, length) for length in (44, 60, 78, 88)]
    assert bends == pytest.approx([0.00719, 0.00388, 0.00230, 0.00180], abs=1e-5)


def test_banked_curves() -> None:
    rows = {(200, 25): (108.87, 178.97), (400, 20): (136.03, 231.72), (50, 10): (33.47, 68.65)}
    for (radius, degrees), (neutral, highest) in rows.items():
        bank = math.radians(degrees)
        # C158
        assert banking.neutral_mps(radius, bank) / KMH == pytest.approx(neutral, abs=0.02)
        # C159
        assert banking.highest_mps(radius, bank, 0.5) / KMH == pytest.approx(highest, abs=0.05)
    # C160
    for radius, degrees, along, into in ((400, 20, -0.2906, 1.0534), (200, 25, 1.7647, 1.1873)):
        bank, outward = math.radians(degrees), (130 * KMH) ** 2 / radius
        assert float(banking.along_floor_mps2(outward, bank)) == pytest.approx(along, abs=1e-3)
        found = float(banking.into_floor_mps2(outward, bank)) / 9.80665
        assert found == pytest.approx(into, abs=1e-3)
        # What it asks for as on level ground, and the simulation's own reckoning of it on a path.
        path = CurvePath([(100, 1 / radius, 1 / radius)], banks=((0.0, 100.0, bank),))
        at, speed = np.array([50.0]), np.array([130 * KMH])
        asked = abs(along) / into
        assert felt_mps2(path, at, np.array([outward]))[0] == pytest.approx(asked, abs=1e-3)
        assert sideways_mps2(path, at, speed)[0] == pytest.approx(asked, abs=1e-3)


BOWL = """choreo: 1
title: a banked curve
paths:
  bowl:
    start: [0 m, 0 m]
    pieces: [{line: 900 m}, {arc: {radius: RADIUS m, angle: -40 deg}, bank: BANK deg, name: turn}, {line: 500 m}]
movers:
  subject:
    path: bowl
    body: {length: 4.60 m, width: 1.85 m}
    limits: {speed: 300 km/h, accelerate: 4 m/s2, brake: 8 m/s2, lateral: 0.5 g}
    programme: [{ramp: {to: SPEED km/h}}, {hold: {settled by: start of subject.turn, settle: 1 s,
      until: end of subject.turn}}, {stop: {}}]
"""


@pytest.mark.parametrize(
    ("radius", "bank", "neutral", "highest"),
    # C158, C159
    [(200, 25, 108.87, 178.97), (400, 20, 136.03, 231.72), (50, 10, 33.47, 68.65)],
)
def test_banked_curves_are_planned(radius: int, bank: int, neutral: float, highest: float) -> None:
    def planned(speed: float) -> Plan:
        text = BOWL.replace("RADIUS", str(radius)).replace("BANK", str(bank))
        return answer(case_of(loads(text.replace("SPEED", f"{speed}"), "bowl.yaml", Path()))).plan

    fast = planned(highest - 0.05)
    assert fast.verdict == "feasible"
    assert fast.movers["subject"].peak.lateral_mps2 == pytest.approx(0.5 * 9.80665, abs=0.01)
    (note,) = [one.text for one in fast.warnings if one.code == "problem.bank"]
    told = [float(one) for one in re.findall(r"([0-9.]+) km/h", note)]
    assert told[:2] == pytest.approx([neutral, highest], abs=0.02)
    assert planned(highest + 0.1).verdict == "infeasible"


def test_lane_departure() -> None:
    rows = [
        # C72, C73
        (72, 0.5, 1200, 1.43254, 30.0, 0.3751),
        (70, 0.5, 1200, 1.47348, 30.857, 0.3968),
        (100, 0.3, 2400, 0.61881, 25.92, 0.1400),
    ]
    for speed, lateral, radius, angle, along, way in rows:
        assert departure_radius_m(speed * KMH, lateral, "unintentional") == radius
        found = departure_m(speed * KMH, lateral, radius)
        assert (math.degrees(found[0]), found[1]) == pytest.approx((angle, way), abs=1e-3)
        assert radius * math.sin(found[0]) == pytest.approx(along, abs=1e-3)
    # C74
    seconds = {0.2: 3.5, 0.3: 3.0, 0.4: 2.0, 0.5: 1.5, 0.6: 1.0, 0.7: 0.75, 0.8: 0.5, 0.9: 0.25}
    for lateral, lasts in seconds.items():
        sizes = Sizes(speed_mps=72 * KMH, lateral_mps=lateral, departure="unintentional")
        (steady_leg,) = [
            leg for leg in lay_out("EN-LD departure", sizes).legs if leg.name == "steady"
        ]
        assert (steady_leg.length_m or 0.0) / (72 * KMH) == pytest.approx(lasts, abs=1e-6)


def test_s_bend_and_turning_path_as_paths() -> None:
    text = """choreo: 1
title: paths
paths:
  bend: {course: S-bend, start: [0 m, 0 m], run-up: 10 m, run-out: 10 m}
  turn: {course: EN-FC turning path, start: [0 m, 0 m], run-up: 10 m, run-out: 10 m, speed: 15 km/h, side: farside}
movers: {subject: {stand: {at: [0 m, 0 m]}, body: {length: 4 m, width: 2 m}}}
"""
    built = build_paths(loads(text, "paths.yaml", Path()).paths)
    bend, turn = built["bend"], built["turn"]
    # C77
    assert bend.length_m - 20.0 == pytest.approx(171.2, abs=0.05)
    end = bend.pose(np.array([bend.length_m - 10.0]))
    assert (end.x_m[0] - 10.0, end.y_m[0]) == pytest.approx((170.948, 8.000), abs=2e-3)
    # C76
    bends = list(bend.stretches())
    clothoids = [end - start for start, end, before, after in bends if before != after]
    assert clothoids == pytest.approx([30.017, 14.009, 25.995, 39.018], abs=1e-3)
    # C78, as the simulation reckons it in the middle of each arc
    arcs = [(a + b) / 2 for a, b, before, after in bends if before == after != 0.0]
    found = [
        sideways_mps2(bend, np.array([at]), np.array([speed * KMH]))[0]
        for at in arcs
        for speed in (60, 80, 100, 130)
    ]
    wanted = [0.353, 0.627, 0.980, 1.657, 0.743, 1.320, 2.063, 3.487]
    assert found == pytest.approx(wanted, abs=1e-3)
    # C23, by its own row: both ends the same way off
    end = turn.pose(np.array([turn.length_m - 10.0]))
    assert (end.x_m[0] - 10.0, end.y_m[0]) == pytest.approx((16.217, 16.217), abs=0.005)
