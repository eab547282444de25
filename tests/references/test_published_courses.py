"""Published courses driven alone: double lane changes, steady circles, tyre conditioning."""

import numpy as np
import pytest

from choreo.geometry import Path
from choreo.plans.record import Plan
from tests.references.scenario_texts import CAR, path_of, planned, room_of


def _section_lengths_m(path: Path, names: list[str]) -> list[float]:
    """Length of named pieces along x."""
    return [float(np.ptp(path.pose(np.array(path.marks[name])).x_m)) for name in names]


@pytest.mark.parametrize(
    ("sections_m", "shift_m", "total_m"),
    [
        # C50: ISO 3888-2:2011, cl. 4.1: 61.0 m SEEN; sections, and 3.515 m for a car 1.8 m wide, SEEN-2
        ((12, 13.5, 11, 12.5, 12), 3.515, 61.0),
        # C50: ISO 3888-1: 110 m SEEN-2 (3.5 m of offset)
        ((15, 30, 25, 25, 15), 3.5, 110.0),
    ],
)
def test_double_lane_change_has_the_published_length_and_shift(
    sections_m: tuple[float, ...], shift_m: float, total_m: float
) -> None:
    a, b, c, d, e = sections_m
    path = path_of(
        f"{{line: {a} m, name: first}}, {{shift: {{offset: {shift_m} m, length: {b} m}}, name: second}}, "
        f"{{line: {c} m, name: third}}, {{shift: {{offset: -{shift_m} m, length: {d} m}}, name: fourth}}, "
        f"{{line: {e} m, name: fifth}}"
    )
    names = ["first", "second", "third", "fourth", "fifth"]
    assert _section_lengths_m(path, names) == pytest.approx(sections_m, abs=1e-3)
    end = path.pose(np.array([path.length_m]))
    assert end.x_m[0] == pytest.approx(total_m, abs=1e-3)
    assert end.y_m[0] == pytest.approx(0.0, abs=1e-6)
    beside = path.pose(np.array(path.marks["third"]))
    assert beside.y_m == pytest.approx([shift_m, shift_m], abs=1e-3)
    assert beside.heading_rad == pytest.approx([0.0, 0.0], abs=1e-9)


def test_exit_lane_of_the_long_double_lane_change_brings_it_to_125_m() -> None:
    # C50: ISO 3888-1: a 15 m exit lane makes 125 m, MEMORY.
    path = path_of(
        "{line: 15 m}, {shift: {offset: 3.5 m, length: 30 m}}, {line: 25 m}, "
        "{shift: {offset: -3.5 m, length: 25 m}}, {line: 15 m}, {line: 15 m}"
    )
    assert path.pose(np.array([path.length_m])).x_m[0] == pytest.approx(125.0, abs=1e-3)


@pytest.mark.parametrize(
    ("sections_m", "shift_m", "widths_m"),
    [
        # C50: ISO 3888-2, SEEN-2: 1.1 b + 0.25, b + 1.00, 1.3 b + 0.25 for b = 1.8 m
        ((12, 13.5, 11, 12.5, 12), 3.515, (2.23, 2.80, 2.59)),
        # C50: ISO 3888-1, SEEN-2: 1.1 b + 0.25, 1.2 b + 0.25, 1.3 b + 0.25
        ((15, 30, 25, 25, 15), 3.5, (2.23, 2.41, 2.59)),
    ],
)
def test_car_passes_the_published_gates_with_as_much_room_on_either_side(
    sections_m: tuple[float, ...], shift_m: float, widths_m: tuple[float, float, float]
) -> None:
    # C50: cones in the middle of each straight section; the inner edges of a pair lie a width apart. The subject is
    # 1.8 m wide, so half of what a width exceeds that is left on either side; surveyed, at most 1 mm less.
    a, b, c, d, e = sections_m
    middles_m = (100 + a / 2, 100 + a + b + c / 2, 100 + a + b + c + d + e / 2)
    gates = zip(middles_m, (0.0, shift_m, 0.0), widths_m, strict=True)
    cones = "".join(
        f"  {side}_{number}: {{kind: obstacle, stand: {{at: [{x} m, {y + sign * (width / 2 + 0.01):.4f} m], "
        f"heading: 0 deg}}, body: {{length: 2 cm, width: 2 cm}}}}\n"
        for number, (x, y, width) in enumerate(gates)
        for side, sign in (("left", 1), ("right", -1))
    )
    room = room_of(f"""\
choreo: 1
title: Double lane change between cones
paths:
  course:
    start: [0 m, 0 m]
    heading: 0 deg
    pieces: [{{line: {100 + a} m}}, {{shift: {{offset: {shift_m} m, length: {b} m}}}}, {{line: {c} m}},
      {{shift: {{offset: -{shift_m} m, length: {d} m}}}}, {{line: {100 + e} m}}]
movers:
  subject:
    path: course
{CAR}
    start: {{station: 50 m}}
    programme:
      - ramp: {{to: 25 km/h}}
      - hold: {{for: 170 m}}
{cones}""")
    least_m = {pair.b: pair.least_m for pair in room.clearances if pair.a == "subject"}
    wanted_m = {
        f"{side}_{number}": (width - 1.8) / 2
        for number, width in enumerate(widths_m)
        for side in ("left", "right")
    }
    assert least_m == pytest.approx(wanted_m, abs=1e-3)


def circle(radius: str, angle: str, to: str, limit: str) -> Plan:
    """A car drives round a circle in a steady way, as quick as the lateral limit allows."""
    return planned(f"""\
choreo: 1
title: Steady circle
prefer: quickest run
paths:
  circle:
    start: [0 m, 0 m]
    heading: 0 deg
    pieces:
      - line: 400 m
      - {{arc: {{radius: {radius}, angle: {angle}}}, name: round}}
      - line: 400 m
movers:
  subject:
    path: circle
{CAR.replace("lateral: 9 m/s2", f"lateral: {limit}")}
    start: {{station: 0 m}}
    programme:
      - ramp: {{to: {to}}}
      - hold: {{settle: 1 s, settled by: start of subject.round, until: end of subject.round}}
""")


def _speed_kmh(plan: Plan) -> float:
    events = {event.name: event for event in plan.movers["subject"].events}
    return events["end of ramp"].speed_mps * 3.6


# C51: ISO 4138:2021, 8.3: R 100 m MEMORY; steps of at most 0.5 m/s2 SEEN. Speeds sqrt(a R), by hand (0.01 km/h).
CIRCLES_KMH = {
    "0.5 m/s2": 25.46, "1 m/s2": 36.00, "1.5 m/s2": 44.09, "2 m/s2": 50.91, "2.5 m/s2": 56.92, "3 m/s2": 62.35,
    "3.5 m/s2": 67.35, "4 m/s2": 72.00, "4.5 m/s2": 76.37, "5 m/s2": 80.50, "5.5 m/s2": 84.43, "6 m/s2": 88.18,
    "6.5 m/s2": 91.78, "7 m/s2": 95.25, "7.5 m/s2": 98.59, "8 m/s2": 101.82,
}  # fmt: skip


def test_quickest_speeds_round_a_circle_of_100_m_are_the_published_ones_in_16_steps() -> None:
    # C51: the quickest plan uses each step up, and 16 of them lead to 8 m/s2.
    plans = [circle("100 m", "90 deg", "20..140 km/h", limit) for limit in CIRCLES_KMH]
    assert [_speed_kmh(plan) for plan in plans] == pytest.approx([*CIRCLES_KMH.values()], abs=0.01)
    peaks_mps2 = [plan.movers["subject"].peak.lateral_mps2 for plan in plans]
    assert np.diff([0.0, *peaks_mps2]) == pytest.approx([0.5] * 16, abs=1e-5)
    assert peaks_mps2[-1] == pytest.approx(8.0, abs=1e-5)


@pytest.mark.parametrize(
    ("radius_m", "angle", "lateral", "speed_kmh", "rounding"),
    [
        # C45: 100 km/h, e 0.08, f 0.12: 393.7 m; 120 km/h, e 0.04, f 0.10: 809.9 m. ERA, SEEN (0.1 m), by
        # V2 / (127 (e + f)); 127 stands for 3.6^2 x 9.80665 = 127.094.
        (393.7, "20 deg", "0.20 g", 100.0, 127.094 / 127),
        (809.9, "10 deg", "0.14 g", 120.0, 127.094 / 127),
        # C45: 70 mph = 112.654 km/h, e 8 %, f 0.10: 1814.8 ft = 553.151 m. RMIN, SEEN (0.1 ft), by V2 / (15 (e + f));
        # 15 stands for 32.174 / 1.46667^2 = 14.957.
        (553.151, "15 deg", "0.18 g", 112.654, 14.957 / 15),
    ],
)
def test_quickest_speed_round_the_published_least_radius_is_its_design_speed(
    radius_m: float, angle: str, lateral: str, speed_kmh: float, rounding: float
) -> None:
    # Superelevation isn't counted upon in a plan: e + f is one lateral limit here. 0.1 m of radius is 0.013 % of speed.
    plan = circle(f"{radius_m} m", angle, "60..140 km/h", lateral)
    assert _speed_kmh(plan) == pytest.approx(speed_kmh * rounding**0.5, rel=1.5e-4)


@pytest.mark.parametrize(
    ("speed", "spiral_m", "radius_m", "growth_mps3", "tolerance"),
    [
        # C44: 50 km/h, 0.3 m/s3, R 250 m: 35.72 m (0.05), by v3 / (C R). SPIR-SI, SEEN
        ("50 km/h", 35.72, 250.0, 0.3, 0.0005),
        # C44: 45 mph, 2 ft/s3, R 1000 ft: 143.5 ft (0.05) = 43.739 m, by 3.15 V3 / (R C). SPIR-US, SEEN
        # 3.15 stands for 1.46667^3 = 3.155: 2 x 3.155 / 3.15 = 2.0032 ft/s3
        ("72.42048 km/h", 43.739, 304.8, 0.61058, 0.0003),
    ],
)
def test_lateral_acceleration_grows_as_published_along_a_spiral(
    speed: str, spiral_m: float, radius_m: float, growth_mps3: float, tolerance: float
) -> None:
    plan = planned(f"""\
choreo: 1
title: Spiral
paths:
  road:
    start: [0 m, 0 m]
    heading: 0 deg
    pieces:
      - line: 300 m
      - {{clothoid: {{length: {spiral_m} m, from: straight, to: {radius_m} m}}, name: spiral}}
      - arc: {{radius: {radius_m} m, angle: 20 deg}}
      - line: 100 m
movers:
  subject:
    path: road
{CAR}
    programme:
      - ramp: {{to: {speed}}}
      - hold: {{settle: 1 s, settled by: start of subject.spiral, until: end of subject.spiral}}
instants:
  enters: {{before: start of subject.spiral, by: 0 s}}
  leaves: {{before: end of subject.spiral, by: 0 s}}
""")
    lasting_s = plan.instants["leaves"].time_s - plan.instants["enters"].time_s
    grown_mps2 = plan.movers["subject"].peak.lateral_mps2
    assert grown_mps2 / lasting_s == pytest.approx(growth_mps3, abs=tolerance)


@pytest.mark.parametrize(("speed_kmh", "lateral_g"), [(30.9, 0.5), (33.8, 0.6)])
def test_tyre_conditioning_circle_has_the_published_speed_and_length(
    speed_kmh: float, lateral_g: float
) -> None:
    # C52: Euro NCAP Low Speed Collisions v1.1, 4.3.1.3, SEEN (0.1): 30 m diameter, 0.5 to 0.6 g are 30.9 to
    # 33.8 km/h; six laps are 565.5 m.
    limit = f"{lateral_g} g"
    assert _speed_kmh(circle("15 m", "360 deg", "10..60 km/h", limit)) == pytest.approx(
        speed_kmh, abs=0.1
    )
    laps = path_of(", ".join(["{arc: {radius: 15 m, angle: 360 deg}}"] * 6))
    assert laps.length_m == pytest.approx(565.5, abs=0.1)


def test_conditioning_pass_of_ten_cycles_at_56_km_per_h_uses_the_published_length() -> None:
    # C52: EN-LS v1.1, 4.3.1.3, SEEN: ten cycles of 1 Hz at 56 km/h use 155.6 m (0.1).
    plan = planned(f"""\
choreo: 1
title: Conditioning pass
paths:
  strip: {{start: [0 m, 0 m], heading: 0 deg, pieces: [{{line: 1 km}}]}}
movers:
  subject:
    path: strip
{CAR}
    programme:
      - ramp: {{to: 56 km/h}}
      - hold: {{for: 10 s}}
""")
    events = {event.name: event.station_m for event in plan.movers["subject"].events}
    assert events["end of hold"] - events["end of ramp"] == pytest.approx(155.6, abs=0.1)
