"""The exact solution where acceleration may jump: speed squared over stations is a chain of straight lines.

What the path allows is bounded from below by straight lines too: a curve of constant radius is one, on a clothoid the
lateral limit is a hyperbola with tangents. One pass backwards brakes for what comes, one forwards accelerates from
what was. Source: Bobrow, Dubowsky, Gibson, "Time-optimal control of robotic manipulators along specified paths", 1985.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from choreo.linear.profile import Part, Profile
from choreo.pace.caps import cap_mps
from choreo.pace.records import SAME_MPS, Drive, Leg, TooSlow, Zone
from choreo.words.display import short_kmh

# Tangents of a hyperbola touch it where the curvature is greater by this factor each: between two of them speed is
# lower by 0.06 % at the most.
TANGENT_RATIO = 1.1
# Under the ellipse stretches are cut so finely (m) that curvature and speed hardly change inside.
ELLIPSE_STEP_M = 1.0
# ... and this share of the lateral limit is left for what they change.
ELLIPSE_SPARE = 1e-4
BISECTIONS = 50
# Slopes of speed squared (m/s2) that differ by less are the same.
SAME_SLOPE = 1e-9

Line = tuple[float, float, float, float]  # from and to station in m, speed squared there
Cell = tuple[Line, float, float, Zone]  # what is allowed, curvature at both ends, where it is


def steady_drive(
    zones: Sequence[Zone], start_mps: float, end_mps: float | None, drive: Drive
) -> tuple[Leg, ...]:
    """Give the quickest drive over zones from one speed to another; end_mps None: as quick as it comes.

    Raises TooSlow: the start is too fast for what comes, or the speed at the end isn't reached.
    """
    cells = [cell for zone in zones for cell in _cells(zone, drive)]
    end = math.inf if end_mps is None else end_mps**2
    backwards = _backwards(cells, end, drive)
    start = start_mps**2
    # Rounding of as many additions as there are cells.
    if start > backwards[0][2] * (1.0 + 1e-9) + 1e-12:
        limit = math.sqrt(backwards[0][2])
        raise TooSlow(
            zones[0].start_m,
            f"it begins at {short_kmh(start_mps)}, but what comes allows {short_kmh(limit)} there",
            "Begin slower.",
        )
    lines = _forwards(backwards, min(start, backwards[0][2]), drive, cells)
    reached = math.sqrt(lines[-1][3])
    if end_mps is not None and reached < end_mps - 1e-6:
        raise TooSlow(
            zones[-1].end_m,
            f"{short_kmh(end_mps)} is wanted at its end, and {short_kmh(reached)} is the most that is reached",
            "Ask for less.",
        )
    return tuple(_legs(lines))


def _cells(zone: Zone, drive: Drive) -> list[Cell]:
    lateral = drive.lateral_mps2 * (1.0 - ELLIPSE_SPARE if drive.ellipse else 1.0)
    most = cap_mps(zone, drive, 0.0) ** 2
    k0, k1 = abs(zone.k0_per_m), abs(zone.k1_per_m)
    low, high = zone.start_m, zone.end_m
    if max(k0, k1) == 0.0 or math.isinf(lateral):
        return [((low, high, most, most), 0.0, 0.0, zone)]
    if drive.ellipse:
        return _fine(zone, lateral, most)
    if k0 == k1:
        allowed = min(most, lateral / k0)
        return [((low, high, allowed, allowed), k0, k0, zone)]
    return _under_hyperbola(zone, lateral, most)


def _fine(zone: Zone, lateral: float, most: float) -> list[Cell]:
    """Short cells, as high as what both their ends allow."""
    count = max(math.ceil(zone.length_m / ELLIPSE_STEP_M), 1)
    stations = [zone.start_m + zone.length_m * number / count for number in range(count)]
    stations.append(zone.end_m)
    cells = []
    for low, high in pairwise(stations):
        k0, k1 = abs(zone.curvature(low)), abs(zone.curvature(high))
        allowed = min(most, lateral / max(k0, k1)) if max(k0, k1) > 0.0 else most
        cells.append(((low, high, allowed, allowed), k0, k1, zone))
    return cells


def _under_hyperbola(zone: Zone, lateral: float, most: float) -> list[Cell]:
    """Tangents of lateral/curvature where it is below what else is allowed, joined where neighbours meet."""
    k0, k1 = abs(zone.k0_per_m), abs(zone.k1_per_m)
    least, greatest = max(min(k0, k1), lateral / most), max(k0, k1)
    if greatest <= least:
        return [((zone.start_m, zone.end_m, most, most), k0, k1, zone)]
    count = max(math.ceil(math.log(greatest / least) / math.log(TANGENT_RATIO)), 1)
    touch = [least * (greatest / least) ** (one / count) for one in range(count + 1)]
    touch[-1] = greatest
    # Two tangents meet at the harmonic mean of the curvatures where they touch.
    meets = [2.0 * a * b / (a + b) for a, b in pairwise(touch)]
    edges = [least, *meets, greatest]
    parts = []
    for k, (low, high) in zip(touch, pairwise(edges), strict=True):
        ends = tuple(lateral * (2.0 / k - one / k**2) for one in (low, high))
        parts.append((low, high, min(ends[0], most), min(ends[1], most)))
    rate = (k1 - k0) / zone.length_m

    def station(curvature: float) -> float:
        return min(max(zone.start_m + (curvature - k0) / rate, zone.start_m), zone.end_m)

    cells: list[Cell] = []
    if min(k0, k1) < least:
        parts.insert(0, (min(k0, k1), least, most, most))
    for low, high, x_low, x_high in parts if rate > 0.0 else reversed(parts):
        ends = (low, high, x_low, x_high) if rate > 0.0 else (high, low, x_high, x_low)
        line = (station(ends[0]), station(ends[1]), ends[2], ends[3])
        if line[1] > line[0]:
            cells.append((line, ends[0], ends[1], zone))
    return cells


def _backwards(cells: Sequence[Cell], end: float, drive: Drive) -> list[Line]:
    """The most from which the rest can be braked for."""
    found: list[Line] = []
    after = end
    for (low, high, x_low, x_high), k_low, k_high, zone in reversed(cells):
        at = min(after, x_high)
        if drive.ellipse and max(k_low, k_high) > 0.0:
            most = _shared(at, x_low, high - low, (k_high, k_low), zone, drive)
            found.append((low, high, most, at))
        else:
            slope = 2.0 * drive.brake_mps2
            turned = _lower((0.0, high - low, x_high, x_low), at, slope)
            parts = ((high - d, high - c, x_d, x_c) for c, d, x_c, x_d in turned)
            # Where lines meet within rounding of an end there is none left.
            found += [part for part in parts if part[1] > part[0]]
        after = found[-1][2]
    return found[::-1]


def _forwards(
    lines: Sequence[Line], start: float, drive: Drive, cells: Sequence[Cell]
) -> list[Line]:
    """What is reached below that, accelerating from the start."""
    found: list[Line] = []
    before, number = start, 0
    for low, high, x_low, x_high in lines:
        while cells[number][0][1] <= low:
            number += 1
        (c_low, c_high, _, _), k_0, k_1, zone = cells[number]
        at = min(before, x_low)
        if drive.ellipse and max(k_0, k_1) > 0.0:
            share = [(one - c_low) / (c_high - c_low) for one in (low, high)]
            ends = (k_0 + (k_1 - k_0) * share[0], k_0 + (k_1 - k_0) * share[1])
            there = _shared(at, x_high, high - low, ends, zone, drive, up=True)
            found.append((low, high, at, there))
        else:
            found += _lower((low, high, x_low, x_high), at, 2.0 * drive.table[0][1])
        before = found[-1][3]
    return found


def _lower(line: Line, at: float, slope: float) -> list[Line]:
    """The lower of a line and of one that rises from `at` at the line's beginning."""
    low, high, x_low, x_high = line
    there = at + slope * (high - low)
    if at >= x_low - 1e-12 and there >= x_high:
        return [line]
    if there <= x_high:
        return [(low, high, at, there)]
    own = (x_high - x_low) / (high - low)
    meets = low + (x_low - at) / (slope - own)
    x_meets = at + slope * (meets - low)
    parts = [(low, meets, at, x_meets), (meets, high, x_meets, x_high)]
    return [part for part in parts if part[1] > part[0]] or [line]


def _shared(
    at: float,
    most: float,
    length_m: float,
    curvatures: tuple[float, float],
    zone: Zone,
    drive: Drive,
    *,
    up: bool = False,
) -> float:
    """How much speed squared there can be at the other end of a cell, of grip that cornering leaves.

    curvatures: here and there, in 1/m.
    """
    here, there = curvatures
    rate = drive.table[0][1] if up else drive.brake_mps2

    def left(x: float, curvature: float) -> float:
        across = zone.sideways_mps2(x * curvature, drive.lateral_mps2) / drive.lateral_mps2
        return math.sqrt(max(1.0 - across**2, 0.0))

    def fits(x: float) -> bool:
        share = min(left(at, here), left(x, there))
        return abs(x - at) <= 2.0 * length_m * rate * share

    if most <= at or fits(most):
        return most
    low, high = at, most
    for _ in range(BISECTIONS):
        middle = (low + high) / 2.0
        low, high = (middle, high) if fits(middle) else (low, middle)
    return low


def _legs(lines: Sequence[Line]) -> list[Leg]:
    """Lines of one slope are one leg."""
    merged: list[Line] = []
    for line in lines:
        if merged:
            low, _, x_low, x_high = merged[-1]
            if abs(_slope(merged[-1]) - _slope(line)) < SAME_SLOPE and x_high == line[2]:
                merged[-1] = (low, line[1], x_low, line[3])
                continue
        merged.append(line)
    return [_leg(line) for line in merged]


def _slope(line: Line) -> float:
    return (line[3] - line[2]) / (line[1] - line[0])


def _leg(line: Line) -> Leg:
    low, high, x_low, x_high = line
    start, end = math.sqrt(max(x_low, 0.0)), math.sqrt(max(x_high, 0.0))
    if abs(end - start) < SAME_MPS:
        return Leg(low, high, end, end, (high - low) / end)
    duration = 2.0 * (high - low) / (start + end)
    accel = (end - start) / duration
    profile = Profile(start, end, (Part(duration, accel, 0.0),))
    return Leg(low, high, start, end, duration, profile, abs(accel))
