"""The verifier agrees with hand-made plans whose truth is known in closed form."""

import json
import math
from dataclasses import asdict, replace

import pytest

from tests.certificates.plans_by_hand import (
    KMH,
    Crossing,
    braking_lead,
    codes,
    crossing_pass,
    standing_target,
)


def test_standing_target_is_met_without_finding():
    found = standing_target().verify()
    assert found.findings == ()
    assert found.measured["contact"] == pytest.approx(0.0, abs=1e-9)
    assert found.worst_encounter_error < 1e-6


def test_walker_launch_precedes_impact_by_3_960_s():
    # C18 (FM127 S8.3.1, S8.3.4, SEEN): 3.960 s, and the subject is 66.0 m away at launch (5e-3).
    found = Crossing().case().verify()
    assert found.findings == ()
    contact = found.encounters["contact"]
    launch_s = found.acts_s["step_out"]
    assert contact.time_s - launch_s == pytest.approx(3.960, abs=5e-4)
    assert contact.station_of_m - found.motions["subject"].state(launch_s)[0] == pytest.approx(
        66.0, abs=5e-3
    )


def test_walker_impact_spreads_by_half_a_sampling_period_of_walking():
    spread = Crossing().case().verify().spread["contact"]
    # Launched 5 ms earlier or later at 5 km/h the walker is 6.9 mm farther left or right; the
    # early one has begun its stop when they meet, 2 m/s2 for 5 ms, which is 25 micrometres.
    assert spread[0] == pytest.approx(-0.005 * 5 * KMH, abs=1e-6)
    assert spread[1] == pytest.approx(0.005 * 5 * KMH - 2.0 * 0.005**2 / 2, abs=1e-6)


def test_braking_lead_at_one_second_is_met_after_2_635_s():
    # C05 (EN-FC 3.1.1.1, SEEN): gap 13.889 m, contact 2.635 s, closing 10.541 m/s (1e-3).
    found = braking_lead(50 * KMH, 4.0, math.sqrt(2 * 50 * KMH / 4.0)).verify()
    assert found.findings == ()
    after_s = found.encounters["contact"].time_s - found.encounters["gap"].time_s
    assert after_s == pytest.approx(2.635, abs=1e-3)
    assert found.encounters["contact"].closing_mps == pytest.approx(10.541, abs=1e-3)
    assert found.measured["gap"] == pytest.approx(1.0, abs=1e-9)


def test_lead_at_rest_is_met_after_4_296_s():
    # C12 (FM127 S7.5, SEEN): 50 km/h, 40 m, 0.5 g: contact 4.296 s (0.01).
    rate, v = 0.5 * 9.80665, 50 * KMH
    found = braking_lead(40.0, rate, (40.0 + v**2 / (2 * rate)) / v).verify()
    assert found.findings == ()
    after_s = found.encounters["contact"].time_s - found.encounters["gap"].time_s
    assert after_s == pytest.approx(4.296, abs=1e-3)


def test_a_hold_that_a_trigger_ends_follows_the_simulated_trigger():
    found = braking_lead(50 * KMH, 4.0, math.sqrt(2 * 50 * KMH / 4.0), by_trigger=True).verify()
    assert found.findings == ()
    # A delay of 5 ms more lets the lead brake later; on the subject's way that is 5 ms of nothing
    # yet.
    assert found.spread["gap"] == pytest.approx((1.0, 1.0), abs=1e-6)


def test_pass_by_distance_is_the_room_before_the_zone():
    found = crossing_pass("distance", 15.7, 0.1).verify()
    assert found.findings == ()
    assert found.measured["pass"] == pytest.approx(20.0 - 0.9 - 3.4, abs=1e-5)


def test_pass_by_time_is_that_room_at_the_subjects_speed():
    found = crossing_pass("time", 1.57, 0.05).verify()
    assert found.findings == ()
    assert found.measured["pass"] == pytest.approx(1.57, abs=1e-6)


def test_worst_limit_use_is_the_largest_ratio():
    case = standing_target()
    assert case.verify().worst_limit_use == pytest.approx(1.0, abs=1e-9)  # 3 of 3 m/s2
    eased = case.with_limits("subject", accelerate=((0.0, 4.0),), brake_mps2=6.0)
    eased = eased.with_phase("subject", 2, brake_mps2=None)
    assert eased.verify().worst_limit_use == pytest.approx(5.0 / 6.0, abs=1e-9)


def test_a_wanted_range_is_met_anywhere_inside():
    case = crossing_pass("distance", 15.7, 0.1)
    wide = replace(
        case.scenario.encounters["pass"],
        wanted=replace(case.scenario.encounters["pass"].wanted, lo=10.0, hi=20.0),
    )
    case = replace(case, scenario=replace(case.scenario, encounters={"pass": wide}))
    found = case.verify()
    assert codes(found) == set()
    assert found.worst_encounter_error == 0.0


def test_summary_is_plain_data_without_infinities():
    case = standing_target().with_piece("subject", 1, duration_s=1.0)
    summary = case.verify().summary()
    assert not summary.agrees
    text = json.dumps(asdict(summary), allow_nan=False)
    assert "verify." in text


def test_every_code_has_words_for_every_finding_of_the_damaged_plans():
    case = standing_target().with_piece("subject", 1, duration_s=1.0, accel_mps2=0.2)
    findings = case.verify().findings
    assert len(findings) > 3
    assert all(finding.text and "{" not in finding.text for finding in findings)
