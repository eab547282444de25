"""Published figures of a braking lead: when and how fast a follower that never brakes hits it.

g is 9.80665 m/s2, the product's own unit. Times count from the start of the lead's braking.
"""

from dataclasses import dataclass

import pytest

from choreo.plans.record import Plan
from tests.references.scenario_texts import braking_lead, phase_start_s, planned


@dataclass(frozen=True)
class Contact:
    """A published contact: time after the start of braking, closing speed, and how exactly."""

    id: str
    speed: str
    gap: str
    brake: str
    time_s: float
    closing_mps: float
    tolerance: float


# Euro NCAP Frontal Collisions v1.1, 3.1.1.1: equal speeds, time gap 1.0 s, 4 m/s2. SEEN.
# Euro NCAP car-to-car v3.0.2, CCRb: 50 km/h, 12 m and 40 m, 2 and 6 m/s2. MEMORY.
# FMVSS 127 (89 FR 39686), S7.5: 50 and 80 km/h, 12 to 40 m, 0.3 to 0.5 g. SEEN.
CONTACTS = [
    Contact("C01", "50 km/h", "distance: 12 m", "brake: 6 m/s2", 2.000, 12.000, 1e-3),
    Contact("C02", "50 km/h", "distance: 12 m", "brake: 2 m/s2", 3.464, 6.928, 1e-3),
    Contact("C03", "50 km/h", "distance: 40 m", "brake: 6 m/s2", 4.037, 13.889, 1e-3),
    Contact("C04", "50 km/h", "distance: 40 m", "brake: 2 m/s2", 6.325, 12.649, 1e-3),
    Contact("C05", "50 km/h", "time gap: 1.0 s", "brake: 4 m/s2", 2.635, 10.541, 1e-3),
    Contact("C06", "30 km/h", "time gap: 1.0 s", "brake: 4 m/s2", 2.041, 8.165, 1e-3),
    Contact("C07", "130 km/h", "time gap: 1.0 s", "brake: 4 m/s2", 4.249, 16.997, 1e-3),
    # The braking is built up from 0 to 4 m/s2 in exactly 1.0 s.
    Contact(
        "C08", "50 km/h", "time gap: 1.0 s", "brake: 4 m/s2, build up: 1.0 s", 3.119, 10.478, 5e-3
    ),
    Contact("C10", "80 km/h", "distance: 12 m", "brake: 0.5 g", 2.212, 10.848, 0.01),
    Contact("C11", "80 km/h", "distance: 40 m", "brake: 0.5 g", 4.039, 19.806, 0.01),
    Contact("C12", "50 km/h", "distance: 40 m", "brake: 0.5 g", 4.296, 13.889, 0.01),
    Contact("C13", "50 km/h", "distance: 40 m", "brake: 0.3 g", 5.240, 13.889, 0.01),
]


@pytest.mark.parametrize("case", CONTACTS, ids=lambda case: case.id)
def test_the_follower_hits_the_braking_lead_at_the_published_time_and_speed(case: Contact) -> None:
    plan = planned(braking_lead(case.speed, case.gap, case.brake))
    contact = plan.encounters["contact"]
    after_s = contact.time_s - phase_start_s(plan, "lead", "brake")
    assert after_s == pytest.approx(case.time_s, abs=case.tolerance)
    assert contact.closing_mps == pytest.approx(case.closing_mps, abs=case.tolerance)


@pytest.mark.parametrize(
    ("speed", "lead_speed", "gap_m", "time_s", "closing_mps"),
    [
        # Worked out by hand from C05: the time gap is the follower's, so the gap is v x 1.0 s; it closes by
        # d t + 2 t2 with d the difference of speeds, so t = (sqrt(d2 + 8 gap) - d) / 4, closing at d + 4 t.
        # EN-VA v1.1, 2.1.3, SEEN: 55 km/h behind 50 km/h. d = 1.3889: sqrt(1.929 + 122.222) = 11.1423
        ("55 km/h", "50 km/h", 15.278, 2.438, 11.142),
        # d = 8.3333: sqrt(69.444 + 133.333) = 14.2400
        ("60 km/h", "30 km/h", 16.667, 1.477, 14.240),
        # d = -2.7778: sqrt(7.716 + 111.111) = 10.9008
        ("50 km/h", "60 km/h", 13.889, 3.420, 10.901),
    ],
)
def test_time_gap_to_a_lead_of_another_speed_is_the_followers_time(
    speed: str, lead_speed: str, gap_m: float, time_s: float, closing_mps: float
) -> None:
    plan = planned(
        braking_lead(
            speed,
            "time gap: 1.0 s",
            "brake: 4 m/s2",
            lead_speed=lead_speed,
            instants="onset: {before: start of lead.brake, by: 0 s}",
        )
    )
    contact = plan.encounters["contact"]
    assert plan.instants["onset"].gaps_m["gap"] == pytest.approx(gap_m, abs=1e-3)
    after_s = contact.time_s - phase_start_s(plan, "lead", "brake")
    assert after_s == pytest.approx(time_s, abs=1e-3)
    assert contact.closing_mps == pytest.approx(closing_mps, abs=1e-3)


@pytest.mark.parametrize(
    ("speed", "time_gap_m"),
    [
        ("50 km/h", 13.889),  # C05: EN-FC v1.1, 3.1.1.1, SEEN
        ("30 km/h", 8.333),  # C06: the same
        ("130 km/h", 36.111),  # C07: the same
    ],
)
def test_a_time_gap_of_one_second_is_the_published_distance(speed: str, time_gap_m: float) -> None:
    plan = planned(
        braking_lead(
            speed,
            "time gap: 1.0 s",
            "brake: 4 m/s2",
            instants="onset: {before: start of lead.brake, by: 0 s}",
        )
    )
    assert plan.instants["onset"].gaps_m["gap"] == pytest.approx(time_gap_m, abs=1e-3)


def _lead_at_contact_mps(plan: Plan) -> float:
    return next(e.speed_mps for e in plan.movers["lead"].events if e.name == "contact")


@pytest.mark.parametrize(
    ("speed", "gap", "brake", "lead_mps"),
    [
        # C01: the lead still runs 1.889 m/s. Euro NCAP car-to-car v3.0.2, CCRb, MEMORY
        ("50 km/h", "distance: 12 m", "brake: 6 m/s2", 1.889),
        # C06: it almost stands. EN-FC v1.1, 3.1.1.1, SEEN
        ("30 km/h", "time gap: 1.0 s", "brake: 4 m/s2", 0.168),
    ],
)
def test_the_lead_still_moves_when_it_is_hit(
    speed: str, gap: str, brake: str, lead_mps: float
) -> None:
    plan = planned(braking_lead(speed, gap, brake))
    assert _lead_at_contact_mps(plan) == pytest.approx(lead_mps, abs=1e-3)


@pytest.mark.parametrize(
    ("speed", "gap", "brake", "stop_s", "stop_m", "tolerance"),
    [
        # C03: Euro NCAP car-to-car v3.0.2, CCRb, MEMORY
        ("50 km/h", "distance: 40 m", "brake: 6 m/s2", 2.315, 16.075, 1e-3),
        # C12 and C13: FMVSS 127, S7.5, SEEN
        ("50 km/h", "distance: 40 m", "brake: 0.5 g", 2.833, 19.670, 0.01),
        ("50 km/h", "distance: 40 m", "brake: 0.3 g", 4.721, 32.784, 0.01),
    ],
)
def test_the_lead_stands_before_it_is_hit(
    speed: str, gap: str, brake: str, stop_s: float, stop_m: float, tolerance: float
) -> None:
    plan = planned(braking_lead(speed, gap, brake))
    ends = {event.name: event for event in plan.movers["lead"].events}
    onset, stopped = ends["end of hold"], ends["end of brake"]
    assert stopped.time_s - onset.time_s == pytest.approx(stop_s, abs=tolerance)
    assert stopped.station_m - onset.station_m == pytest.approx(stop_m, abs=tolerance)
    assert stopped.time_s < plan.encounters["contact"].time_s
    assert _lead_at_contact_mps(plan) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(
    ("speed", "gap", "brake", "stop_s"),
    [
        # C04: Euro NCAP car-to-car v3.0.2, CCRb, MEMORY
        ("50 km/h", "distance: 40 m", "brake: 2 m/s2", 6.944),
        # C06: EN-FC v1.1, 3.1.1.1, SEEN
        ("30 km/h", "time gap: 1.0 s", "brake: 4 m/s2", 2.083),
    ],
)
def test_the_lead_is_hit_shortly_before_it_would_stand(
    speed: str, gap: str, brake: str, stop_s: float
) -> None:
    plan = planned(braking_lead(speed, gap, brake))
    ends = {event.name: event.time_s for event in plan.movers["lead"].events}
    assert ends["end of brake"] - ends["end of hold"] == pytest.approx(stop_s, abs=1e-3)
    assert ends["contact"] < ends["end of brake"]


def test_closing_speed_in_km_per_h_agrees_with_the_preamble() -> None:
    # C10 and C11: FMVSS 127, S7.5, SEEN: 39.05 and 71.3 km/h (0.01 m/s). The preamble, III.H.2-3, quotes
    # a worst case of 72 km/h relative, which is 1 % from the second.
    near = planned(braking_lead("80 km/h", "distance: 12 m", "brake: 0.5 g"))
    far = planned(braking_lead("80 km/h", "distance: 40 m", "brake: 0.5 g"))
    assert near.encounters["contact"].closing_mps * 3.6 == pytest.approx(39.05, abs=0.036)
    assert far.encounters["contact"].closing_mps * 3.6 == pytest.approx(71.3, abs=0.036)
    assert far.encounters["contact"].closing_mps * 3.6 == pytest.approx(72, rel=0.01)


def test_braking_starts_one_second_after_t0_and_is_full_a_second_later() -> None:
    # C09: EN-FC v1.1, 1.5.1 and 3.1.1.1, SEEN: T0 + 1.0 s and T0 + 2.0 s.
    plan = planned(
        braking_lead(
            "50 km/h",
            "time gap: 1.0 s",
            "brake: 4 m/s2, build up: 1.0 s",
            instants="T0: {before: start of lead.brake, by: 1.0 s}",
        )
    )
    t0_s = plan.instants["T0"].time_s
    braking = [piece for piece in plan.movers["lead"].pieces if piece.phase == "brake"]
    building, full = braking[0], braking[1]
    assert building.start_s - t0_s == pytest.approx(1.0, abs=1e-6)
    assert building.accel_mps2 == pytest.approx(0.0, abs=1e-6)
    assert full.start_s - t0_s == pytest.approx(2.0, abs=1e-6)
    assert full.accel_mps2 == pytest.approx(-4.0, abs=1e-6)
