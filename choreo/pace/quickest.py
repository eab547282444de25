"""The quickest drive along a path, and the gentlest that takes no longer than asked."""

from __future__ import annotations

from collections.abc import Sequence

from choreo.pace.built_up import built_up_drive
from choreo.pace.caps import SAME_M, cap_mps
from choreo.pace.records import Drive, HeldBy, Leg, TooSlow, WindowMissed, Zone, lasts_s
from choreo.pace.steady import steady_drive
from choreo.words.display import short_kmh

# No drive uses less than this share of its limits.
LEAST_SHARE = 0.01
BISECTIONS = 40
# Speeds below the least of a window by less than this (m/s) are rounding.
UNDER_MPS = 1e-6


def drive(
    zones: Sequence[Zone], start_mps: float, end_mps: float | None, within: Drive
) -> tuple[Leg, ...]:
    """Give the quickest drive over zones from one speed in m/s to another; end_mps None: as quick as it comes.

    Where acceleration may jump it is the quickest there is, as near as tangents are to clothoids; else the quickest
    found of ramps that begin and end without acceleration. Raises TooSlow: there is none, or it is slower
    than a window wants.
    """
    _check_neighbours(zones, within)
    solve = steady_drive if within.steady else built_up_drive
    legs = solve(zones, start_mps, end_mps, within)
    _check_windows(zones, legs)
    return legs


def drive_lasting(
    zones: Sequence[Zone],
    start_mps: float,
    end_mps: float | None,
    within: Drive,
    lasting_s: float,
) -> tuple[tuple[Leg, ...], float]:
    """Give the drive that uses the least share of all limits and takes no longer than asked, and that share.

    Raises TooSlow: even at its limits it takes longer.
    """
    legs = drive(zones, start_mps, end_mps, within)
    quickest = lasts_s(legs)
    if quickest > lasting_s:
        raise TooSlow(
            zones[0].start_m,
            f"it takes {quickest:.3f} s at its limits, and no more than {lasting_s:g} s are wanted",
            f"Write {quickest:.1f} s or more.",
        )
    low, high = LEAST_SHARE, 1.0
    for _ in range(BISECTIONS):
        share = (low + high) / 2.0
        try:
            found = drive(zones, start_mps, end_mps, within.scaled(share))
        except TooSlow:
            low = share
            continue
        if lasts_s(found) > lasting_s:
            low = share
        else:
            high, legs = share, found
    return legs, high


def _check_neighbours(zones: Sequence[Zone], within: Drive) -> None:
    """A window's least speed is allowed at each of its places, and where it meets the next one."""
    for before, zone, behind in zip([None, *zones], zones, [*zones[1:], None], strict=False):
        if zone.least_mps <= 0.0:
            continue
        for at, curvature in ((zone.start_m, zone.k0_per_m), (zone.end_m, zone.k1_per_m)):
            own = cap_mps(zone, within, curvature)
            if own < zone.least_mps - UNDER_MPS:
                held_by: HeldBy = "curve" if own < within.top_mps else "limit"
                raise WindowMissed(at, zone, own, held_by)
        for other, at in ((before, zone.start_m), (behind, zone.end_m)):
            if other is not None and other.most_mps < zone.least_mps - UNDER_MPS:
                first, second = (other, zone) if other is before else (zone, other)
                raise TooSlow(
                    at,
                    f"pieces meet there of which one is driven {_window(first)} and the next one "
                    f"{_window(second)}: no speed is both",
                    "Let the windows overlap, or put a piece without a speed between them.",
                )


def _window(zone: Zone) -> str:
    least, most = zone.least_mps, zone.most_mps
    if least <= 0.0:
        return f"at no more than {short_kmh(most)}"
    return f"at {short_kmh(least)} to {short_kmh(most)}"


def _check_windows(zones: Sequence[Zone], legs: Sequence[Leg]) -> None:
    """No slower than windows want: speed is monotonous in a leg, so that its ends in a zone are enough."""
    number = 0
    for zone in zones:
        if zone.least_mps <= 0.0:
            continue
        while number < len(legs) - 1 and legs[number].end_m <= zone.start_m + SAME_M:
            number += 1
        for leg in legs[number:]:
            if leg.start_m >= zone.end_m - SAME_M:
                break
            for station in (max(leg.start_m, zone.start_m), min(leg.end_m, zone.end_m)):
                speed = speed_at(leg, station)
                if speed < zone.least_mps - UNDER_MPS:
                    raise WindowMissed(station, zone, speed)


def speed_at(leg: Leg, station_m: float) -> float:
    """Give the speed in m/s at a station of a leg."""
    if leg.profile is None or station_m <= leg.start_m:
        return leg.from_mps
    if station_m >= leg.end_m:
        return leg.to_mps
    low, high = 0.0, leg.duration_s
    for _ in range(60):
        middle = (low + high) / 2.0
        way = leg.profile.at(middle)[0]
        low, high = (middle, high) if leg.start_m + way < station_m else (low, middle)
    return leg.profile.at((low + high) / 2.0)[1]
