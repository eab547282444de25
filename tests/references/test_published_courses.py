"""Published courses driven alone: double lane changes, steady circles, tyre conditioning."""

import math

import numpy as np
import pytest

from choreo.geometry import Path
from choreo.plans.record import Plan
from tests.references.scenario_texts import CAR, path_of, planned


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
      - line: 300 m
      - {{arc: {{radius: {radius}, angle: {angle}}}, name: round}}
      - line: 300 m
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


@pytest.mark.parametrize(("limit", "speed_kmh"), [("4 m/s2", 72.00), ("8 m/s2", 101.82)])
def test_quickest_speed_round_a_circle_of_100_m_is_the_published_one(
    limit: str, speed_kmh: float
) -> None:
    # C51: ISO 4138: R 100 m MEMORY, steps SEEN: 72.00 and 101.82 km/h (0.01) at 4 and 8 m/s2.
    plan = circle("100 m", "360 deg", "30..140 km/h", limit)
    assert _speed_kmh(plan) == pytest.approx(speed_kmh, abs=0.01)
    assert plan.movers["subject"].peak.lateral_mps2 <= float(limit.split()[0]) + 1e-6


def test_half_steps_of_lateral_acceleration_up_to_8_mps2_are_16_circles() -> None:
    # C51: ISO 4138:2021, 8.3, SEEN: steps of at most 0.5 m/s2; 0.5 to 8 m/s2 are 16 of them. Driven at the
    # speed of each, the plan's peak is that step; km/h with two decimals round it by less than 0.002 m/s2.
    steps = np.arange(0.5, 8.01, 0.5)
    assert len(steps) == 16
    for step in steps[1::5]:
        speed = f"{math.sqrt(step * 100) * 3.6:.2f} km/h"
        peak = circle("100 m", "90 deg", speed, "9 m/s2").movers["subject"].peak.lateral_mps2
        assert peak == pytest.approx(step, abs=0.002)


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
