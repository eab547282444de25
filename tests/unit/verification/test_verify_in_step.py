"""Who goes in step: the law on the simulated motion of the one whom it goes in step with.

Expected values come from the stepped simulation in tests/in_step_by_hand.py.
"""

import math

import numpy as np
import pytest

from choreo.scenario import Limits
from choreo.scenario.records.in_step import InStep
from choreo.verification.in_step import Driven, drive, progress_of
from choreo.verification.integration import Motion, integrate
from tests.in_step_by_hand import stepped

LIMITS = Limits(3.0, ((0.0, 2.0),), 2.0)


def lead_motion(speed_mps: float, late_s: float = 0.0) -> Motion:
    """From rest at 2 m/s2 to a speed, which it then holds."""
    return integrate(0.0, 0.0, 1.0 + late_s, [speed_mps / 2.0, 40.0], [2.0, 0.0], [0.0, 0.0])


def walker_motion() -> Motion:
    """From rest 6 s after go at 1 m/s2 to 1.5 m/s, held for 4 s."""
    return integrate(0.0, 0.0, 6.0, [1.5, 4.0], [1.0, 0.0], [0.0, 0.0])


def driven(law: InStep, lead: Motion) -> Driven:
    progress = progress_of(law, lead_motion(14.0), lead, 30.0)
    start = (progress.when(6.0), 0.0, 0.0)
    return drive(law, LIMITS, walker_motion(), progress, start, [7.5, 11.5])


@pytest.mark.parametrize(
    ("speed_mps", "late_s", "link_s"),
    [(14.0, 0.0, 0.03), (14.2, 0.0, 0.03), (13.6, 0.4, 0.0), (14.0, 0.7, 0.05)],
)
def test_law_is_that_of_a_simulation_by_hand(
    speed_mps: float, late_s: float, link_s: float
) -> None:
    law = InStep("subject", ("ramp", "hold"), 0.10, link_s, 100.0)
    found = driven(law, lead_motion(speed_mps, late_s))
    durations, accels, jerks = zip(*found.commands, strict=True)
    motion = integrate(0.0, 0.0, found.begins_s, durations, accels, jerks)
    end_s, station_m, end_mps = stepped(law, speed_mps, late_s)
    assert found.reached_s[-1] == pytest.approx(end_s, abs=2e-3)
    assert motion.stations_m[-1] == pytest.approx(station_m, abs=3e-3)
    assert motion.speeds_mps[-1] == pytest.approx(end_mps, abs=3e-3)


def test_run_as_planned_is_driven_as_planned_to_the_last_bit_but_rounding() -> None:
    law = InStep("subject", ("ramp", "hold"), 0.10, 0.03, 100.0, 0.5)
    found = driven(law, lead_motion(14.0))
    durations, accels, jerks = zip(*found.commands, strict=True)
    motion = integrate(0.0, 0.0, found.begins_s, durations, accels, jerks)
    clock = np.linspace(5.0, 11.5, 77)
    assert motion.at(clock)[0] == pytest.approx(walker_motion().at(clock)[0], abs=1e-9)
    assert found.reached_s == pytest.approx((7.5, 11.5), abs=1e-9)


def test_frozen_it_keeps_the_pace_that_it_has() -> None:
    # 0.4 s late by a launch, which 10 % can't make good in time: frozen half a second before the end, at 1.35 m/s.
    law = InStep("subject", ("ramp", "hold"), 0.10, 0.0, 100.0, 0.5)
    slow = driven(law, lead_motion(12.0))
    assert slow.pace == pytest.approx(0.9, abs=0.02)
    last = slow.commands[-1]
    assert last[1] == pytest.approx(0.0, abs=1e-12)


def test_one_that_stands_where_it_should_drive_lets_the_other_wait() -> None:
    law = InStep("subject", ("ramp", "hold"), 0.10, 0.0, 100.0)
    standing = integrate(0.0, 0.0, 1.0, (), (), ())
    assert driven(law, standing).begins_s == math.inf


def test_met_as_its_ramp_ends_it_stops_from_the_speed_that_it_has_by_plan() -> None:
    law = InStep("subject", ("ramp", "hold"), 0.10, 0.03, 100.0)
    lead = lead_motion(14.0)
    progress = progress_of(law, lead, lead, 30.0)
    start = (progress.when(6.0), 0.0, 0.0)
    assert drive(law, LIMITS, walker_motion(), progress, start, [7.5, 7.5]).pace == pytest.approx(
        1.0, abs=1e-9
    )
