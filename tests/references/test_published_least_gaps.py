"""Published gaps that just suffice: a follower that does what the rule supposes comes as near as can be.

The plan leaves a millimetre, because bodies that touch unasked are no plan.
"""

import pytest

from tests.references.scenario_texts import CAR, LANE, TARGET, planned

KMH = 1 / 3.6
# What is left, and what it is worth as a time at a relative speed.
LEFT_M = 0.001


def cut_in(relative_kmh: int, unaware_s: float, brake: str) -> str:
    """A car comes up to a lead at 30 km/h; unaware_s after the intrusion it brakes down to the lead's speed."""
    return f"""\
choreo: 1
title: Cut-in that can just be survived
paths:
{LANE}
movers:
  subject:
    path: lane
{CAR}
    programme:
      - ramp: {{to: {30 + relative_kmh} km/h}}
      - hold: {{settle: 2 s, settled by: intrusion}}
      - {{ramp: {{to: 30 km/h, {brake}}}, name: brake}}
  lead:
    path: lane
{TARGET}
    start: {{station: 500 m}}
    programme:
      - ramp: {{to: 30 km/h}}
      - hold: {{settle: 2 s, settled by: intrusion, until: nearest}}
encounters:
  nearest: {{kind: gap, of: subject, with: lead, distance: {LEFT_M} m, at: end of subject.brake}}
instants:
  intrusion: {{before: start of subject.brake, by: {unaware_s} s}}
"""


def _limit_s(relative_kmh: int, unaware_s: float, brake: str) -> float:
    plan = planned(cut_in(relative_kmh, unaware_s, brake))
    ttc_s = plan.instants["intrusion"].times_to_collision_s["nearest"]
    return ttc_s - LEFT_M / (relative_kmh * KMH)


@pytest.mark.parametrize(("relative_kmh", "ttc_s"), [(10, 0.581), (20, 0.813), (60, 1.739)])
def test_cut_in_with_the_published_time_to_collision_is_just_survived(
    relative_kmh: int, ttc_s: float
) -> None:
    # C38: UN R157 Amend.3, 5.2.5.2, SEEN (1e-3 s): v / (2 x 6 m/s2) + 0.35 s.
    assert _limit_s(relative_kmh, 0.35, "brake: 6 m/s2") == pytest.approx(ttc_s, abs=1e-3)


@pytest.mark.parametrize(
    ("relative_kmh", "ordinary_s", "standing_s"),
    [
        (10, 0.48, 0.74),
        (20, 0.71, 1.32),
        (30, 0.94, 1.90),
        (40, 1.18, 2.47),
        (50, 1.41, 3.05),
        (60, 1.64, 3.63),
    ],
)
def test_cut_in_table_is_what_a_follower_survives_whose_braking_builds_up(
    relative_kmh: int, ordinary_s: float, standing_s: float
) -> None:
    # C39: AFGBV, Annex 1, and (EU) 2022/1426, SEEN (0.005 s): v / 2a + tau / 2 + 0.1 s, with a 6 m/s2 and tau 0.3 s, or
    # a 2.4 m/s2 and tau 0.12 s for standing passengers. Half of tau is what a braking loses that is built up and
    # released in tau each: a jerk of a / tau, 20 m/s3 for both.
    ordinary = _limit_s(relative_kmh, 0.1, "brake: 6 m/s2, jerk: 20 m/s3")
    standing = _limit_s(relative_kmh, 0.1, "brake: 2.4 m/s2, jerk: 20 m/s3")
    assert [ordinary, standing] == pytest.approx([ordinary_s, standing_s], abs=0.005)


def test_safe_distance_is_used_up_by_the_response_that_it_supposes() -> None:
    # C48: RSS, formula and parameters SEEN-2, number DERIVED (1e-6 m): both 20 m/s; the follower accelerates by 2 m/s2
    # for 1 s, then brakes 4 m/s2, the lead brakes 8 m/s2: 20 + 1 + 22^2 / 8 - 20^2 / 16 = 56.5 m.
    plan = planned(f"""\
choreo: 1
title: Safe distance
paths:
{LANE}
movers:
  subject:
    path: lane
{CAR}
    programme:
      - ramp: {{to: 20 m/s}}
      - hold: {{settle: 2 s, until: alarm}}
      - {{ramp: {{to: 22 m/s, accelerate: 2 m/s2, lasting: 1 s}}, name: unaware}}
      - stop: {{brake: 4 m/s2}}
  lead:
    path: lane
{TARGET}
    start: {{station: 500 m}}
    programme:
      - ramp: {{to: 20 m/s}}
      - hold: {{settle: 2 s, until: alarm}}
      - stop: {{brake: 8 m/s2}}
triggers:
  alarm: {{watch: lead, when: {{station: free}}, latency: 0 ms}}
encounters:
  nearest: {{kind: gap, of: subject, with: lead, distance: {LEFT_M} m, at: end of subject.stop}}
instants:
  alarmed: {{before: start of lead.stop, by: 0 s}}
""")
    alarmed = plan.instants["alarmed"]
    assert alarmed.gaps_m["nearest"] - LEFT_M == pytest.approx(56.5, abs=1e-6)
    assert [one.speed_mps for one in alarmed.movers.values()] == pytest.approx([20.0, 20.0])
