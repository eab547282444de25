"""Published stopping distances: a hold for the reaction, then braking to rest."""

import pytest

from choreo.plans.record import PlanEvent
from tests.references.scenario_texts import CAR, LANE, planned


def stopping(speed: str, phases: str) -> dict[str, PlanEvent]:
    """Events of a car that is brought to a speed, then does what the phases say."""
    plan = planned(f"""\
choreo: 1
title: Stop
paths:
{LANE}
movers:
  subject:
    path: lane
{CAR}
    start: {{station: 0 m}}
    programme:
      - {{ramp: {{to: {speed}}}, name: up}}
{phases}
""")
    return {event.name: event for event in plan.movers["subject"].events}


def _travel_m(events: dict[str, PlanEvent], begin: str, end: str) -> float:
    return events[end].station_m - events[begin].station_m


def test_textbook_stop_is_the_published_distance() -> None:
    # C47: textbook example (30.0 m/s, 7.00 m/s2, 0.500 s), SEEN: 64.29 + 15.00 = 79.29 m (0.01).
    events = stopping("30 m/s", "      - hold: {for: 0.500 s}\n      - stop: {brake: 7.00 m/s2}")
    assert _travel_m(events, "end of up", "end of hold") == pytest.approx(15.00, abs=0.01)
    assert _travel_m(events, "end of hold", "end of stop") == pytest.approx(64.29, abs=0.01)
    assert _travel_m(events, "end of up", "end of stop") == pytest.approx(79.29, abs=0.01)


def test_latest_braking_before_a_junction() -> None:
    # C68: EN-FC v1.1, junction motorcycle rule, SEEN; 20 km/h, latency 0.1 s, 8 m/s2 DERIVED: 0.5556 + 1.9290 m.
    events = stopping("20 km/h", "      - hold: {for: 0.1 s}\n      - stop: {brake: 8 m/s2}")
    assert _travel_m(events, "end of up", "end of stop") == pytest.approx(2.485, abs=1e-3)


@pytest.mark.parametrize(
    ("mph", "thinking_m", "braking_m", "total_m"),
    [
        (20, 6, 6, 12),
        (30, 9, 14, 23),
        (40, 12, 24, 36),
        (50, 15, 38, 53),
        (60, 18, 55, 73),
        (70, 21, 75, 96),
    ],
)
def test_stop_of_the_uk_highway_code_is_the_published_distance(
    mph: int, thinking_m: float, braking_m: float, total_m: float
) -> None:
    # C46: UK Highway Code, rule 126, SEEN (whole metres; 0.6 m): V feet of thinking, then 6.56 m/s2.
    events = stopping(
        f"{mph * 1.609344:.6f} km/h",
        f"      - hold: {{for: {mph * 0.3048:.6f} m}}\n      - stop: {{brake: 6.56 m/s2}}",
    )
    assert _travel_m(events, "end of up", "end of hold") == pytest.approx(thinking_m, abs=0.6)
    assert _travel_m(events, "end of hold", "end of stop") == pytest.approx(braking_m, abs=0.6)
    assert _travel_m(events, "end of up", "end of stop") == pytest.approx(total_m, abs=0.6)


def test_mean_fully_developed_deceleration_of_a_constant_stop_is_the_published_one() -> None:
    # C41: UN R13 Annex 4 (GRRF-56-3) and R131, formula SEEN: from 100 km/h at 6.43 m/s2 the speed is 80 km/h
    # after 21.600 m and 10 km/h after 59.400 m (1e-3), and the formula gives back 6.430 m/s2.
    events = stopping(
        "100 km/h",
        "      - {ramp: {to: 80 km/h, brake: 6.43 m/s2}, name: first}\n"
        "      - {ramp: {to: 10 km/h, brake: 6.43 m/s2}, name: middle}\n"
        "      - stop: {brake: 6.43 m/s2}",
    )
    begin_m = _travel_m(events, "end of up", "end of first")
    end_m = _travel_m(events, "end of up", "end of middle")
    assert begin_m == pytest.approx(21.600, abs=1e-3)
    assert end_m == pytest.approx(59.400, abs=1e-3)
    assert (80**2 - 10**2) / (25.92 * (end_m - begin_m)) == pytest.approx(6.430, abs=1e-3)


@pytest.mark.parametrize(("speed", "distance_m"), [(50, 20.0), (80, 46.4), (100, 70.0)])
def test_stop_of_un_r13h_is_the_published_distance(speed: int, distance_m: float) -> None:
    # C42: UN R13-H, 0.1 v + 0.0060 v2, MEMORY (0.02 m): 0.36 s at speed, then 6.43 m/s2.
    events = stopping(
        f"{speed} km/h", "      - hold: {for: 0.36 s}\n      - stop: {brake: 6.43 m/s2}"
    )
    assert _travel_m(events, "end of up", "end of stop") == pytest.approx(distance_m, abs=0.02)


def test_reference_driver_stops_in_the_published_distance_and_time() -> None:
    # C49: UN R157 (original), Annex guidance, table 1, SEEN; the sums are DERIVED: 60 km/h, 1.15 s at speed, 0.6 s
    # of linear build-up to 7.590 m/s2: 42.35 m, 3.646 s (0.02).
    events = stopping(
        "60 km/h",
        "      - hold: {for: 1.15 s}\n      - {ramp: {to: 0 km/h, brake: 7.590 m/s2, build up: 0.6 s}, name: brake}",
    )
    assert _travel_m(events, "end of up", "end of brake") == pytest.approx(42.35, abs=0.02)
    duration_s = events["end of brake"].time_s - events["end of up"].time_s
    assert duration_s == pytest.approx(3.646, abs=0.02)


def test_cool_down_and_conditioning_stop_cover_the_published_distances() -> None:
    # C53: Euro NCAP Low Speed Collisions v1.1, 4.3.1.2, and EN-FC v1.1, 4.3.1, SEEN (0.1 m): 5 min at 72 km/h are
    # 6000 m; a stop from 72 km/h at 0.3 g takes 67.98 m.
    events = stopping("72 km/h", "      - hold: {for: 1 km}\n      - stop: {brake: 0.3 g}")
    hold_s = events["end of hold"].time_s - events["end of up"].time_s
    assert 6 * hold_s == pytest.approx(5 * 60, abs=0.1 / 20)
    assert _travel_m(events, "end of hold", "end of stop") == pytest.approx(67.98, abs=0.1)
