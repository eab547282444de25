"""Who goes in step: the law on the simulated motion of the one whom it goes in step with.

Expected values come from a simulation stepped by a fifth of a millisecond that is written here, with an integrator of
its own (midpoint rule), of a law stated in stations and speeds only.
"""

import math
from collections.abc import Callable

import numpy as np
import pytest

from choreo.scenario import Limits
from choreo.scenario.records.in_step import InStep
from choreo.verification.in_step import Driven, drive, progress_of
from choreo.verification.integration import Motion, integrate

STEP_S = 2e-4
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


def lead_by_hand(
    speed_mps: float, late_s: float
) -> tuple[Callable[[float], float], Callable[[float], float]]:
    """Station and speed of the lead over time in s, in closed form."""
    ramp_s = speed_mps / 2.0

    def since(t: float) -> float:
        return max(0.0, t - 1.0 - late_s)

    def station(t: float) -> float:
        u = since(t)
        return u * u if u <= ramp_s else ramp_s**2 + speed_mps * (u - ramp_s)

    def speed(t: float) -> float:
        return min(2.0 * since(t), speed_mps)

    return station, speed


def stepped(law: InStep, speed_mps: float, late_s: float) -> tuple[float, float, float]:
    """The same by hand: when the run has come to 11.5 s, at which station and how fast the walker is then."""
    station, speed = lead_by_hand(speed_mps, late_s)

    def come_to(s: float) -> float:
        return 1.0 + (math.sqrt(max(s, 0.0)) if s <= 49.0 else 7.0 + (s - 49.0) / 14.0)

    def walker_m(run: float) -> float:
        u = max(0.0, run - 6.0)
        return u * u / 2 if u <= 1.5 else 1.125 + 1.5 * (u - 1.5)

    def walker_mps(run: float) -> float:
        return min(max(0.0, run - 6.0), 1.5)

    period_s = 1.0 / law.sampling_hz
    x = v = extra = pace = frozen_mps = 0.0
    run, samples, frozen = 0.0, -1, False
    for k in range(200_000):
        t = k * STEP_S
        if math.floor(t / period_s + 1e-9) > samples:
            samples += 1
            seen_m, seen_mps = station(t - law.link_s), speed(t - law.link_s)
            run = come_to(seen_m) + law.link_s if seen_m > 0 else min(t, 1.0 + law.link_s)
            pace = (
                seen_mps / max(min(2 * (run - law.link_s - 1.0), 14.0), 1e-9) if seen_mps else 1.0
            )
            if law.frozen_s is not None and run >= 11.5 - law.frozen_s and not frozen:
                frozen, frozen_mps = True, v
            to_mps = walker_mps(run + pace * period_s)
            wanted = pace * to_mps + (walker_m(run) - x) / 0.5
            most = to_mps * law.correction_ratio
            wanted = min(max(wanted, to_mps - most), to_mps + most)
            extra = (wanted - v - pace * (to_mps - walker_mps(run))) / period_s
            feed = pace**2 if 6.0 < run < 7.5 else 0.0
            extra = min(max(extra, -2.0 - feed), 2.0 - feed)
        if frozen:
            x += frozen_mps * STEP_S
            if x >= walker_m(11.5):
                break
            continue
        now = run + pace * (t + STEP_S / 2 - samples * period_s)
        a = extra + (pace**2 if 6.0 < now < 7.5 else 0.0)
        x += v * STEP_S + a * STEP_S**2 / 2
        v += a * STEP_S
        if now >= 11.5:
            break
    return t + STEP_S, x, v


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
