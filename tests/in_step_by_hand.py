"""A walker in step with a car, stepped by a fifth of a millisecond with an integrator of its own.

The car is to speed up from rest at 2 m/s2 to 14 m/s 1 s after go, the walker 6 s after go at 1 m/s2 to 1.5 m/s, which
it holds for 4 s. The law is written here in stations and speeds once more, from the guide's words alone.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

from choreo.scenario.records.in_step import InStep

STEP_S = 2e-4


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


@dataclass(frozen=True)
class Own:
    """What is off with the walker itself: its held speed, its measured position, the rate that its drive achieves."""

    held_mps: float = 0.0
    position_m: float = 0.0
    achieved: float = 1.0


def stepped(
    law: InStep,
    speed_mps: float,
    late_s: float,
    own: Own = Own(),
) -> tuple[float, float, float]:
    """When the run has come to 11.5 s, at which station and how fast the walker is then."""
    station, speed = lead_by_hand(speed_mps, late_s)

    def come_to(s: float) -> float:
        return 1.0 + (math.sqrt(max(s, 0.0)) if s <= 49.0 else 7.0 + (s - 49.0) / 14.0)

    def walker_m(run: float) -> float:
        u = max(0.0, run - 6.0)
        return u * u / 2 if u <= 1.5 else 1.125 + 1.5 * (u - 1.5)

    def walker_mps(run: float) -> float:
        return min(max(0.0, run - 6.0), 1.5)

    period_s = 1.0 / law.sampling_hz
    x = told = extra = pace = frozen_mps = 0.0
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
                frozen, frozen_mps = True, told + own.held_mps
            to_mps = walker_mps(run + pace * period_s)
            wanted = pace * to_mps + (walker_m(run) - x - own.position_m) / 0.5
            most = to_mps * law.correction_ratio
            wanted = min(max(wanted, to_mps - most), to_mps + most)
            extra = (wanted - told - pace * (to_mps - walker_mps(run))) / period_s
            feed = pace**2 if 6.0 < run < 7.5 else 0.0
            extra = min(max(extra, -2.0 - feed), 2.0 - feed)
        if frozen:
            x += frozen_mps * STEP_S
            if x >= walker_m(11.5):
                break
            continue
        now = run + pace * (t + STEP_S / 2 - samples * period_s)
        a = extra + (pace**2 if 6.0 < now < 7.5 else 0.0)
        a *= own.achieved
        v = told + own.held_mps * walker_mps(now) / 1.5
        x += v * STEP_S + a * STEP_S**2 / 2
        told += a * STEP_S
        if now >= 11.5:
            break
    return t + STEP_S, x, told + own.held_mps
