"""Drives without what nobody drives: gains of speed that are lost again at once, holds in several pieces."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from choreo.pace.records import SAME_MPS, Leg, Zone

# A gain of speed that is lost again at once and is smaller than this (m/s) is no ramp that anybody drives.
BUMP_MPS = 0.05


def even(legs: Sequence[Leg], zones: Sequence[Zone]) -> list[Leg]:
    """Give legs without bumps: up by next to nothing and down again is a hold, where no window wants more."""
    evened: list[Leg] = []
    left = list(legs)
    while left:
        bump = next((left[:count] for count in (2, 3) if _is_bump(left[:count])), None)
        slow = bump[0].from_mps if bump else 0.0
        if bump and not wants_more(zones, bump, slow):
            first, last = bump[0].start_m, bump[-1].end_m
            evened.append(Leg(first, last, slow, slow, (last - first) / slow))
            left = left[len(bump) :]
        else:
            evened.append(left.pop(0))
    return evened


def wants_more(zones: Sequence[Zone], legs: Sequence[Leg], speed_mps: float) -> bool:
    """Say whether a window in which legs lie wants more than a speed in m/s."""
    return any(
        zone.least_mps > speed_mps
        and zone.start_m < legs[-1].end_m
        and zone.end_m > legs[0].start_m
        for zone in zones
    )


def _is_up_and_down(legs: Sequence[Leg]) -> bool:
    """Whether legs are a ramp up from a speed, perhaps a hold, and a ramp down."""
    first, last = legs[0], legs[-1]
    return (
        len(legs) > 1
        and first.to_mps > first.from_mps
        and last.to_mps < last.from_mps
        and all(one.is_hold for one in legs[1:-1])
    )


def _is_bump(legs: Sequence[Leg]) -> bool:
    """Whether legs go up by next to nothing and down to where the first one began."""
    first, last = legs[0], legs[-1]
    return (
        _is_up_and_down(legs)
        and first.from_mps > 0.0
        and first.to_mps - first.from_mps < BUMP_MPS
        and abs(last.to_mps - first.from_mps) < SAME_MPS
    )


def is_peak(legs: Sequence[Leg]) -> bool:
    """Say whether legs go up and down, one of both by next to nothing, between two speeds that differ."""
    first, last = legs[0], legs[-1]
    gain, loss = first.to_mps - first.from_mps, last.from_mps - last.to_mps
    return _is_up_and_down(legs) and min(gain, loss) < BUMP_MPS and abs(gain - loss) >= SAME_MPS


def joined(legs: Sequence[Leg]) -> tuple[Leg, ...]:
    """Make one of holds at one speed, but for rounding, that follow each other."""
    whole: list[Leg] = []
    for leg in legs:
        last = whole[-1] if whole else None
        same = last is not None and abs(last.to_mps - leg.from_mps) < SAME_MPS
        if last is not None and last.is_hold and leg.is_hold and same:
            length = leg.end_m - last.start_m
            whole[-1] = replace(last, end_m=leg.end_m, duration_s=length / last.to_mps)
        else:
            whole.append(leg)
    return tuple(whole)
