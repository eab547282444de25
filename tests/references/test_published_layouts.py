"""Courses laid out from standards: cones, widths, circles, forms, sine with dwell, banking, against worked values.

Each test says by its number in SOURCES.md what it compares with.
"""

import math
import re
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from choreo.case import answer, case_of
from choreo.courses import Sizes, banking, lay_out
from choreo.courses.straights import departure_m, departure_radius_m
from choreo.geometry import CurvePath, build_paths, felt_mps2
from choreo.plans.record import Plan
from choreo.report.course_figures import figure_sections
from choreo.report.sections import Section, Table
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


FIGURES = """choreo: 1
title: courses whose figures are told
paths:
  circle-100: {course: steady circle, start: [0 m, 0 m], radius: 100 m}
  circle-40: {course: steady circle, start: [0 m, 0 m], radius: 40 m}
  circle-30: {course: steady circle, start: [0 m, 0 m], radius: 30 m}
  sine: {course: sine with dwell, start: [0 m, 0 m], speed: 80 km/h, wheel angle: 50 deg}
  slalom: {course: slalom, start: [0 m, 0 m], spacing: 18 m, count: 5, aside: 1 m}
  weave: {course: weave, start: [0 m, 0 m], speed: 100 km/h, frequency: 0.2 Hz, lateral acceleration: 2 m/s2}
  forms: {course: lane change, start: [0 m, 0 m], aside: 3.5 m, length: 50 m}
  cut-in-10: {course: EN-VA cut-in, start: [0 m, 0 m], speed: 10 km/h}
  cut-in-70: {course: EN-VA cut-in, start: [0 m, 0 m], speed: 70 km/h}
  cut-out-50: {course: EN-VA cut-out, start: [0 m, 0 m], speed: 50 km/h}
  head-on-50: {course: EN-FC head-on, start: [0 m, 0 m], speed: 50 km/h}
  head-on-70: {course: EN-FC head-on, start: [0 m, 0 m], speed: 70 km/h}
  head-on-90: {course: EN-FC head-on, start: [0 m, 0 m], speed: 90 km/h}
  head-on-100: {course: EN-FC head-on, start: [0 m, 0 m], speed: 100 km/h}
movers:
"""
DRIVEN = """  NAME:
    path: NAME
    body: {length: 4.4 m, width: 1.8 m}
    limits: {speed: 150 km/h, accelerate: 3 m/s2, brake: 6 m/s2, lateral: LIMIT m/s2}
    start: {station: 0 m}
    programme: [{ramp: {to: 60 km/h}}, {hold: {for: 120 m}}, {stop: {brake: 5 m/s2}}]
"""


@cache
def drives() -> tuple[str, Plan]:
    """One car on each of these courses at 60 km/h: the text, and its plan."""
    names = re.findall(r"^  (\S+): {course", FIGURES, re.MULTILINE)
    limits = {"sine": "7"}
    places = iter(range(0, 1000 * len(names), 1000))
    text = re.sub(r"\[0 m, 0 m\]", lambda _: f"[0 m, {next(places)} m]", FIGURES) + "".join(
        DRIVEN.replace("NAME", name).replace("LIMIT", limits.get(name, "20")) for name in names
    )
    plan = answer(case_of(loads(text, "figures.yaml", Path()))).plan
    assert plan.verdict == "feasible"
    return text, plan


def figures(mover: str, old: str = "", new: str = "") -> list[Section]:
    """What a plan tells of the course of a mover; old, new: of the text, where that changes no plan."""
    text, plan = drives()
    scenario = loads(text.replace(old, new) if old else text, "figures.yaml", Path())
    found = [one for one in figure_sections(scenario, plan) if one.title.startswith(f"{mover}:")]
    assert found
    return found


def numbers(mover: str, old: str = "", new: str = "") -> list[float]:
    """All numbers of its sentences, in order."""
    lines = [line for one in figures(mover, old, new) for line in getattr(one, "lines", ())]
    return [float(one) for one in re.findall(r"(?<![\w.])\d+(?:\.\d+)?", " ".join(lines))]


def rows(mover: str) -> dict[str, list[float]]:
    """The numbers of its table, by the first column."""
    (table,) = (one for one in figures(mover) if isinstance(one, Table))
    return {name: [float(one) for one in rest if one != "jumps"] for name, *rest in table.rows}


def test_steady_circle_speeds_and_lap() -> None:
    # C139
    wanted = {
        "100": [36.00, 50.91, 62.35, 72.00, 80.50, 88.18, 95.25, 101.82],
        "40": [22.77, 32.20, 39.44, 45.54, 50.91, 55.77, 60.24, 64.40],
        "30": [19.72, 27.89, 34.15, 39.44, 44.09, 48.30, 52.17, 55.77],
    }
    for radius, speeds in wanted.items():
        told = [row[0] for row in rows(f"circle-{radius}").values()]
        assert told == pytest.approx(speeds, abs=0.01)
    # C140
    assert "a lap 628.32 m" in figures("circle-100")[0].title
    assert rows("circle-100")["4"][1] == pytest.approx(31.42, abs=0.01)


def test_sine_with_dwell() -> None:
    told = numbers("sine")
    # C144
    assert told[:4] == pytest.approx([0.35714, 1.07143, 1.57143, 1.92857], abs=1e-5)
    # C147 and, of a car that holds 7 m/s2, C148
    assert [told[index] for index in (5, 6, 8)] == [1.83, 1.07, 1.52]
    assert [told[index] for index in (7, 10)] == pytest.approx([3.1968, 2.6553], abs=1e-3)
    assert told[12] == pytest.approx(2.0648, abs=1e-3)
    # C149
    assert told[15:17] == pytest.approx([3.704, 82.30], abs=0.01)
    # C145
    for angle, fastest in ((50, "1319.5"), (30, "1187.5")):
        (notes,) = figures("sine", "wheel angle: 50", f"wheel angle: {angle}")
        assert f"deg: {fastest} deg/s" in " ".join(getattr(notes, "lines", ()))


@pytest.mark.parametrize(
    ("angle", "runs", "of_five"),
    # C146
    [(25, 20, 13), (30, 16, 9), (35, 14, 7), (40, 12, 5), (45, 11, 4), (50, 10, 3), (60, 8, 1)],
)
def test_runs_of_a_sine_with_dwell(angle: int, runs: int, of_five: int) -> None:
    (notes,) = figures("sine", "wheel angle: 50", f"wheel angle: {angle}")
    told = " ".join(getattr(notes, "lines", ()))
    assert f"; {runs} runs each way, {of_five} of them" in told


def test_weave_slalom_and_forms_of_a_lane_change() -> None:
    # C151
    assert numbers("weave")[-2:] == pytest.approx([1.2665, 138.9], abs=0.02)
    # C152
    assert numbers("slalom")[-2:] == pytest.approx([0.463, 8.46], abs=0.01)
    # A line that is driven through the cones is no such sine, and no figure of it is told.
    text, plan = drives()
    driven = loads(text.replace("aside: 1 m", "aside: 1 m, line: least jerk"), "x.yaml", Path())
    told_of = [one.title.split(":")[0] for one in figure_sections(driven, plan)]
    assert ("weave" in told_of, "slalom" in told_of) == (True, False)
    # C153: 50 m at 60 km/h are 3 s
    told = rows("forms")
    assert told["two arcs"] == pytest.approx([1.5556], abs=1e-3)
    assert told["cosine"] == pytest.approx([1.9191, 2.0097], abs=1e-3)
    assert told["quintic"] == pytest.approx([2.2453, 7.7778], abs=1e-3)
    assert told["cycloid"] == pytest.approx([2.4435, 5.1176], abs=1e-3)
    assert told["septic"][0] == pytest.approx(7.51319 * 3.5 / 9, abs=1e-4)


def test_printed_lane_changes() -> None:
    # C154
    wanted = {
        "cut-in-10": (21.965, 3.536),
        "cut-in-70": (5.6767, 10.595),
        "cut-out-50": (7.2397, 11.325),
    }
    for name, (angle, straight) in wanted.items():
        assert numbers(name)[-2:] == pytest.approx([angle, straight], abs=2e-3)
    # C161: as two arcs; the printed curvature is that of the path at its tightest
    bends = {
        50: (0.00719, 0.0076),
        70: (0.00388, 0.0039),
        90: (0.00230, 0.0023),
        100: (0.00180, 0.0019),
    }
    for speed, (arcs, printed) in bends.items():
        assert numbers(f"head-on-{speed}")[0] == pytest.approx(arcs, abs=1e-5)
        peak = drives()[1].movers[f"head-on-{speed}"].peak.lateral_mps2
        assert peak == pytest.approx((60 * KMH) ** 2 * printed, rel=1e-4)


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
        (steady,) = [
            one for one in lay_out("EN-LD departure", sizes).pieces if one.name == "steady"
        ]
        assert (steady.length_m or 0.0) / (72 * KMH) == pytest.approx(lasts, abs=1e-6)


@pytest.mark.parametrize("departure", ["unintentional", "intentional"])
def test_a_series_of_departures_ends_at_steady_where_there_is_none_too(departure: str) -> None:
    """At 1.0 m/s EN-LD has no steady phase: its place is the end of `steer`."""
    text = """choreo: 1
title: Departure
paths:
  course: {course: EN-LD departure, start: [0 m, 0 m], speed: 72 km/h, lateral speed: 1.0 m/s, departure: WAY}
movers:
  subject:
    path: course
    body: {length: 4.45 m, width: 1.85 m}
    limits: {speed: 180 km/h, accelerate: 3 m/s2, brake: 8 m/s2, lateral: 8 m/s2}
    programme:
      - ramp: {to: 72 km/h}
      - hold: {settle: 1 s, settled by: start of subject.steer, until: end of subject.steady}
      - stop: {brake: 5 m/s2}
""".replace("WAY", departure)
    found = answer(case_of(loads(text, "departure.yaml", Path())))
    assert found.plan.verdict == "feasible"
    marks = found.paths["subject"].marks
    assert marks["steady"] == pytest.approx((marks["steer"][1],) * 2)


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
