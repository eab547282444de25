"""The least way and time of one ramp, and its words: what proofs add up."""

from __future__ import annotations

import math

from choreo.motion import RampShape, least_ramp_distance_m, least_ramp_time_s, rated_ramp
from choreo.problem.records import Ramp
from choreo.scenario import Span
from choreo.words.display import short_kmh


def ramp_distance_m(speed: Span, ramp: Ramp) -> float:
    """Give a distance in m that the ramp can't be shorter than; 0 where a speed is open."""
    if ramp.over_m is not None:
        return ramp.over_m
    if not (speed.fixed and ramp.to.fixed):
        return 0.0
    if ramp.rated:
        return rated_shape(speed, ramp).distance_m
    return least_ramp_distance_m(speed.lo, ramp.to.lo, ramp.table, ramp.jerk_mps3)


def ramp_time_s(speed: Span, ramp: Ramp) -> float:
    """Give a time in s that the ramp can't be shorter than; 0 where a speed is open."""
    if ramp.lasting_s is not None:
        return ramp.lasting_s
    if not (speed.fixed and ramp.to.fixed):
        return 0.0
    if ramp.rated:
        return rated_shape(speed, ramp).duration_s
    least = least_ramp_time_s(speed.lo, ramp.to.lo, ramp.table, ramp.jerk_mps3)
    fastest = max(speed.lo, ramp.to.lo)
    if ramp.over_m is not None and fastest > 0:
        least = max(least, ramp.over_m / fastest)
    return least


def rated_shape(speed: Span, ramp: Ramp) -> RampShape:
    """Give the one shape of a rated ramp between given speeds."""
    rate = ramp.table[0][1]
    jerk = ramp.jerk_mps3 if ramp.build_up_s is None else rate / ramp.build_up_s
    return rated_ramp(
        speed.lo,
        ramp.to.lo,
        rate,
        build_up_jerk_mps3=jerk,
        release_jerk_mps3=ramp.jerk_mps3,
    )


def ramp_words(speed: Span, ramp: Ramp) -> str:
    """Describe a ramp: speeds, rate, jerk."""
    rates = [value for _, value in ramp.table]
    rate = f"{min(rates):.4g}" if len(rates) == 1 else f"{max(rates):.4g}..{min(rates):.4g}"
    jerk = "" if math.isinf(ramp.jerk_mps3) else f", {ramp.jerk_mps3:.4g} m/s3"
    return f"{ramp.name} {short_kmh(speed.lo)} -> {short_kmh(ramp.to.lo)} at {rate} m/s2{jerk}"
