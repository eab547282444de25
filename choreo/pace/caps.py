"""What a path allows: its stretches with the speeds between which they are driven."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from choreo.geometry import Path, bank_at, counted_per_m, felt_mps2
from choreo.geometry.sections import Section
from choreo.pace.records import Drive, Zone
from choreo.words.display import short_kmh
from choreo.words.quantities import quoted

# Stations that differ by less than this (m) are the same.
SAME_M = 1e-9


def zones_of(
    path: Path,
    sections: Sequence[Section],
    from_m: float,
    to_m: float,
    lateral_mps2: float = math.inf,
) -> tuple[Zone, ...]:
    """Cut a path from one station to another (m) at its stretches and sections; straight beyond its ends.

    Where sections overlap, the narrowest of each side counts. Stretches are as exact as the path gives them.
    lateral_mps2: where it is given, curvatures are those that count against it: less on a bank.
    """
    cuts = {from_m, to_m}
    stretches = [one for one in path.stretches() if one[1] > from_m and one[0] < to_m]
    for start, end, k0, k1 in stretches:
        cuts |= {start, end}
        if k0 * k1 < 0.0:
            cuts.add(start + (end - start) * k0 / (k0 - k1))
    for section in sections:
        cuts |= {section.start_m, section.end_m}
    stations = sorted(one for one in cuts if from_m <= one <= to_m)
    kept = [stations[0]]
    for station in stations[1:]:
        if station - kept[-1] > SAME_M:
            kept.append(station)
    kept[-1] = to_m
    zones = []
    at = 0
    for low, high in pairwise(kept):
        middle = (low + high) / 2.0
        while at < len(stretches) and stretches[at][1] <= middle:
            at += 1
        inside = at < len(stretches) and stretches[at][0] <= middle
        k0, k1 = _ends(stretches[at], low, high) if inside else (0.0, 0.0)
        bound = [one for one in sections if one.start_m <= middle <= one.end_m]
        least = max((one.least_mps for one in bound), default=0.0)
        most = min((one.most_mps for one in bound), default=math.inf)
        share = float(counted_per_m(path, np.array([middle]), np.ones(1), lateral_mps2)[0])
        there = np.array([middle])
        leans = float(felt_mps2(path, there, np.zeros(1))[0] * np.sign(bank_at(path, there))[0])
        zones.append(Zone(low, high, share * k0, share * k1, least, most, leans))
    return tuple(zones)


def window_at(station_m: float, sections: Sequence[Section]) -> Section:
    """Give the section that says the least speed at a station in m where one does."""
    inside = [one for one in sections if one.start_m <= station_m <= one.end_m]
    return max(inside, key=lambda one: one.least_mps)


def window_told(window: Section, name: str | None) -> str:
    """'65 km/h to 75 km/h on `setts`', 'on piece 2': a window by the name of its piece, if it has one."""
    piece = f"piece {window.piece + 1}" if name is None else f"`{quoted(name)}`"
    return f"{short_kmh(window.least_mps)} to {short_kmh(window.most_mps)} on {piece}"


def _ends(
    stretch: tuple[float, float, float, float], low_m: float, high_m: float
) -> tuple[float, float]:
    start, end, k0, k1 = stretch
    if k0 == k1 or end <= start:
        return k0, k1
    rate = (k1 - k0) / (end - start)
    return k0 + rate * (low_m - start), k0 + rate * (high_m - start)


def cap_mps(zone: Zone, drive: Drive, curvature_per_m: float) -> float:
    """Give the highest speed in m/s in a zone at a curvature: top speed, window, lateral limit."""
    most = min(zone.most_mps, drive.top_mps)
    if curvature_per_m == 0.0:
        return most
    return min(most, math.sqrt(drive.lateral_mps2 / abs(curvature_per_m)))
