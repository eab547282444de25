"""Does each mover stay within what it can do, at every instant and every place?"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from choreo.geometry import Path, banks_of, cusps_of
from choreo.scenario import Limits, Mover
from choreo.verification.bends import bends_of
from choreo.verification.integration import Interval, Looks, Motion
from choreo.verification.ledger import Ledger
from choreo.verification.script import Script
from choreo.verification.sideways import sideways_mps2
from choreo.verification.together import shares_used
from choreo.verification.tolerances import (
    DRIFT,
    JUMP_MPS2,
    LATERAL_CLOCK_S,
    LIMIT_FLOOR,
    LIMIT_RATIO,
    SIDE_M,
    TIME_S,
    TURNING_MPS,
)

Array = NDArray[np.float64]

# Bisections until a time inside an interval is exact to the last bit.
HALVINGS = 50


def check_limits(ledger: Ledger, mover: Mover, script: Script, motion: Motion, path: Path) -> None:
    """Check one mover's simulated motion against its limits and its path."""
    name, limits = script.name, mover.limits
    _check_speed(ledger, name, limits, motion)
    _check_acceleration(ledger, name, limits, motion)
    _check_braking(ledger, name, limits, motion)
    _check_jerk(ledger, mover, script, motion)
    if math.isfinite(limits.lateral_mps2):
        _check_lateral(ledger, name, limits, motion, path)
        if limits.combined == "ellipse":
            _check_together(ledger, name, limits, motion, path)
    _check_place(ledger, name, limits, motion, path)
    _check_turns(ledger, name, motion, path)


# A value, what is allowed, and when, in s.
Look = tuple[float, float, float]


def _judge(
    ledger: Ledger, code: str, keys: tuple[str | int, ...], looks: Sequence[Look], motion: Motion
) -> None:
    """Find the worst use of a limit; over it, report when, where and from when to when."""
    if not looks:
        return
    value, limit, time_s = max(looks, key=_use)
    ledger.use(_use((value, limit, time_s)))
    over = [when for found, most, when in looks if found > most * (1.0 + LIMIT_RATIO) + LIMIT_FLOOR]
    if not over:
        return
    station_m, _ = motion.state(time_s)
    ledger.error(
        code,
        *keys,
        mover=str(keys[1]),
        value=value,
        limit=limit,
        time_s=time_s,
        station_m=station_m,
        from_s=min(over),
        until_s=max(over),
    )


def _use(look: Look) -> float:
    """How much of what is allowed a value is."""
    return look[0] / max(look[1], LIMIT_FLOOR)


def _judge_many(
    ledger: Ledger,
    code: str,
    keys: tuple[str | int, ...],
    values: Array,
    limit: float,
    times_s: Array,
    motion: Motion,
) -> None:
    """The same of many values, shape (n,), for which one limit is: of those within it the greatest tells all."""
    if not len(values):
        return
    telling = values > limit
    telling[values.argmax()] = True
    found, times = values[telling].tolist(), times_s[telling].tolist()
    looks = [(value, limit, time_s) for value, time_s in zip(found, times, strict=True)]
    _judge(ledger, code, keys, looks, motion)


def _ends(motion: Motion) -> list[tuple[float, float]]:
    """Accelerations in m/s2 at both ends of every interval, and when: their extremes, as they are linear between."""
    found = []
    for from_s, lasting_s, _, _, accel, change in motion.intervals:
        found += [(accel, from_s), (accel + change, from_s + lasting_s)]
    return found


def _check_speed(ledger: Ledger, name: str, limits: Limits, motion: Motion) -> None:
    nodes = [(one.speed_mps, one.from_s) for one in motion.intervals]
    peaks = [(speed, time_s) for time_s, speed in motion.turns]
    speeds = [*nodes, (motion.last[2], motion.end_s), *peaks]
    looks = [(speed, limits.speed_mps, time_s) for speed, time_s in speeds]
    _judge(ledger, "speed", ("movers", name, "limits", "speed"), looks, motion)


def _check_acceleration(ledger: Ledger, name: str, limits: Limits, motion: Motion) -> None:
    """Exact between nodes: within a stretch without a knot of the table, acceleration less the
    table's value is a quadratic in time, so its largest value follows from three of its
    values.
    """
    if len(limits.accelerate) == 1:
        _check_one_rate(ledger, name, limits.accelerate[0][1], motion)
        return
    knots = np.array([speed for speed, _ in limits.accelerate])
    table = np.array([accel for _, accel in limits.accelerate])
    clock = motion.looks
    index, low, high = _knot_free(clock, knots)
    # Where acceleration is nowhere above zero the table has no say.
    rises = np.maximum(clock.accels_from_mps2, clock.accels_to_mps2)[index] > 0.0
    index, low, high = index[rises], low[rises], high[rises]
    if not len(index):
        return
    offsets = [low, (low + high) / 2, high]
    looks = [_excess(clock, index, u, knots, table) for u in offsets]
    excess = [look[0] for look in looks]
    bend = excess[0] - 2 * excess[1] + excess[2]
    slope = (excess[2] - excess[0]) / 2
    # Vertex of the parabola through three equidistant values, in half lengths from the middle.
    vertex = np.divide(-slope, bend, out=np.zeros_like(bend), where=bend < 0.0)
    offsets.append(low + (high - low) * (np.clip(vertex, -1.0, 1.0) + 1.0) / 2)
    looks.append(_excess(clock, index, offsets[-1], knots, table))
    found: list[Look] = []
    for u, (_, accel, limit) in zip(offsets, looks, strict=True):
        rising = accel > 0.0
        times = (clock.times_s[index] + u)[rising]
        columns = (accel[rising].tolist(), limit[rising].tolist(), times.tolist())
        found += zip(*columns, strict=True)
    _judge(ledger, "acceleration", ("movers", name, "limits", "accelerate"), found, motion)


def _check_one_rate(ledger: Ledger, name: str, limit_mps2: float, motion: Motion) -> None:
    """The same limit at all speeds: acceleration is linear between nodes, so that its ends tell."""
    looks = [(accel, limit_mps2, time_s) for accel, time_s in _ends(motion) if accel > 0.0]
    _judge(ledger, "acceleration", ("movers", name, "limits", "accelerate"), looks, motion)


def _excess(
    clock: Looks, index: NDArray[np.int64], u: Array, knots: Array, table: Array
) -> tuple[Array, Array, Array]:
    """Acceleration over the table, acceleration and table value u seconds into intervals."""
    accel, speed = _inside(clock, index, u)
    limit = np.interp(speed, knots, table)
    return accel - limit, accel, limit


def _inside(clock: Looks, index: NDArray[np.int64], u: Array) -> tuple[Array, Array]:
    """Acceleration and speed u seconds into intervals, both one-sided at their ends."""
    length = clock.times_s[index + 1] - clock.times_s[index]
    a_0 = clock.accels_from_mps2[index]
    # An interval without length has no inside: its start counts.
    share = np.divide(u, length, out=np.zeros(np.broadcast(u, length).shape), where=length > 0)
    a_u = a_0 + (clock.accels_to_mps2[index] - a_0) * share
    return a_u, clock.speeds_mps[index] + u * (a_0 + a_u) / 2


def _knot_free(clock: Looks, knots: Array) -> tuple[NDArray[np.int64], Array, Array]:
    """Cut intervals where speed peaks or passes a knot; give interval, start and end offset of each part."""
    count = len(clock.accels_from_mps2)
    lengths = np.diff(clock.times_s)
    peaks, peaked = _turning_points(clock)
    index = np.concatenate((np.arange(count), peaked))
    offset = np.concatenate((np.zeros(count), peaks - clock.times_s[peaked]))
    index, low, high = _parts(index, offset, lengths)
    # All knots that are passed are looked for at once; shape (knots, parts) says which parts pass which.
    over_low = _inside(clock, index, low)[1] - knots[:, None]
    over_high = _inside(clock, index, high)[1] - knots[:, None]
    knot, crossing = np.nonzero(over_low * over_high < 0.0)
    where, passed_mps = index[crossing], knots[knot]
    before, after = low[crossing], high[crossing]
    sign = np.sign(over_low[knot, crossing])
    for _ in range(HALVINGS if len(where) else 0):
        middle = (before + after) / 2
        same = (_inside(clock, where, middle)[1] - passed_mps) * sign > 0.0
        before, after = np.where(same, middle, before), np.where(same, after, middle)
    return _parts(np.concatenate((index, where)), np.concatenate((low, after)), lengths)


def _turning_points(clock: Looks) -> tuple[Array, NDArray[np.int64]]:
    """Times inside intervals at which acceleration passes zero, hence speed peaks, and the intervals."""
    a_0, a_1 = clock.accels_from_mps2, clock.accels_to_mps2
    index = np.flatnonzero(a_0 * a_1 < 0.0)
    length = np.diff(clock.times_s)[index]
    return clock.times_s[index] + length * a_0[index] / (a_0[index] - a_1[index]), index


def _parts(
    index: NDArray[np.int64], offset: Array, lengths: Array
) -> tuple[NDArray[np.int64], Array, Array]:
    order = np.lexsort((offset, index))
    index, low = index[order], offset[order]
    last = np.append(index[1:] != index[:-1], True)
    high = np.where(last, lengths[index], np.append(low[1:], 0.0))
    return index, low, high


def _check_braking(ledger: Ledger, name: str, limits: Limits, motion: Motion) -> None:
    looks = [(-accel, limits.brake_mps2, time_s) for accel, time_s in _ends(motion)]
    _judge(ledger, "braking", ("movers", name, "limits", "brake"), looks, motion)


def _check_jerk(ledger: Ledger, mover: Mover, script: Script, motion: Motion) -> None:
    """Jerk within pieces, and jumps of acceleration between them: a jump is an infinite jerk."""
    name, limit = script.name, mover.limits.jerk_mps3
    if math.isfinite(limit):
        looks = [
            (abs(one.change_mps2) / one.lasting_s, limit, one.from_s) for one in motion.intervals
        ]
        _judge(ledger, "jerk", ("movers", name, "limits", "jerk"), looks, motion)
    before = 0.0
    for one in (*motion.intervals, Interval(motion.end_s, 0.0, *motion.last[1:], 0.0, 0.0)):
        after, jumps = one.accel_mps2, abs(one.accel_mps2 - before) > JUMP_MPS2
        if jumps and not _may_jump(script, motion, one.from_s, before, after, limit):
            ledger.use(math.inf)
            ledger.error(
                "jerk-jump",
                "movers",
                name,
                "limits",
                "jerk",
                mover=name,
                from_mps2=before,
                to_mps2=after,
                time_s=one.from_s,
                station_m=one.station_m,
            )
            return
        before = after + one.change_mps2


def _may_jump(
    script: Script, motion: Motion, time_s: float, before: float, after: float, limit: float
) -> bool:
    """Say whether acceleration may jump from before to after, in m/s2, at a time in s.

    A ramp with a given build up may let go of its rate at once, at its end. A ramp with a jerk cap of its own may
    neither begin nor end at another acceleration than 0, whatever its mover could do. All else may jump where the
    mover's jerk has no limit.
    """
    now = motion.launch_s
    for phase in script.phases:
        start, now = now, now + sum(phase.durations_s)
        if phase.phase.kind != "ramp" or not start - TIME_S <= time_s <= now + TIME_S:
            continue
        at_end = time_s >= now - TIME_S
        if phase.phase.build_up_s is not None and at_end and abs(before) > JUMP_MPS2:
            return True
        own = after if time_s <= start + TIME_S else before
        if phase.phase.jerk_mps3 is not None and abs(own) > JUMP_MPS2:
            return False
    return not math.isfinite(limit)


def _check_lateral(ledger: Ledger, name: str, limits: Limits, motion: Motion, path: Path) -> None:
    """v^2 |curvature| on a dense clock, and on both sides of every joint of the path."""
    bends = bends_of(path)
    if not motion.moves or bends is None:
        return
    # Not even its greatest speed in the tightest bend would be worth telling; a bank has a pull of its own.
    most_mps2 = motion.fastest_mps**2 * bends.tightest_per_m
    if not banks_of(path) and most_mps2 <= limits.lateral_mps2 * min(1.0, ledger.worst_limit_use):
        return
    # From a little before the first bend until a little after the last.
    from_s = max(motion.time_at(bends.from_m) - LATERAL_CLOCK_S, motion.launch_s)
    until_s = min(motion.time_at(bends.until_m) + LATERAL_CLOCK_S, motion.end_s)
    if until_s <= from_s:
        return
    clock = np.linspace(from_s, until_s, max(2, math.ceil((until_s - from_s) / LATERAL_CLOCK_S)))
    stations, speeds, _ = motion.at(clock)
    joints, at_s, at_mps = _joints(motion, path, clock, stations, speeds)
    bent = (stations >= bends.from_m) & (stations <= bends.until_m)
    stations = np.concatenate((stations[bent], joints - SIDE_M, joints + SIDE_M))
    speeds = np.concatenate((speeds[bent], at_mps, at_mps))
    times = np.concatenate((clock[bent], at_s, at_s))
    values = sideways_mps2(path, stations, speeds)
    keys = ("movers", name, "limits", "lateral")
    _judge_many(ledger, "lateral", keys, values, limits.lateral_mps2, times, motion)


def _check_together(ledger: Ledger, name: str, limits: Limits, motion: Motion, path: Path) -> None:
    """Braking or accelerating and cornering at once, as a share of the ellipse."""
    if not motion.moves:
        return
    times, values = shares_used(limits, motion, path)
    _judge_many(
        ledger, "combined", ("movers", name, "limits", "combined"), values, 1.0, times, motion
    )


def _joints(
    motion: Motion, path: Path, clock: Array, stations: Array, speeds: Array
) -> tuple[Array, Array, Array]:
    """Stations of the path's joints that are passed, when (Newton from the clock), and the speeds there."""
    ends = np.unique([end for stretch in path.stretches() for end in stretch[:2]])
    joints = ends[(ends > stations[0]) & (ends < stations[-1])]
    node = np.clip(np.searchsorted(stations, joints), 0, len(clock) - 1)
    fastest = np.maximum(speeds, LIMIT_FLOOR)
    times = clock[node] + (joints - stations[node]) / fastest[node]
    found, at_mps, _ = motion.at(times)
    times = times + (joints - found) / np.maximum(at_mps, LIMIT_FLOOR)
    times = np.clip(times, clock[np.maximum(node - 1, 0)], clock[node])
    return joints, times, motion.at(times)[1]


def _check_turns(ledger: Ledger, name: str, motion: Motion, path: Path) -> None:
    """At rest wherever its path changes between forwards and backwards."""
    for cusp_m in cusps_of(path):
        if not motion.intervals[0].station_m < cusp_m < motion.last[1]:
            continue
        time_s = motion.time_at(cusp_m)
        _, speed_mps = motion.state(time_s)
        if speed_mps > TURNING_MPS:
            ledger.error(
                "turns-at-speed",
                "movers",
                name,
                "programme",
                mover=name,
                speed_mps=speed_mps,
                station_m=cusp_m,
                time_s=time_s,
            )


def _check_place(ledger: Ledger, name: str, limits: Limits, motion: Motion, path: Path) -> None:
    start, end = motion.intervals[0].station_m, motion.last[1]
    travel = end - start
    if math.isfinite(limits.stroke_m):
        ledger.use(travel / limits.stroke_m)
        if travel > limits.stroke_m + DRIFT:
            ledger.error(
                "stroke",
                "movers",
                name,
                "limits",
                "stroke",
                mover=name,
                travel_m=travel,
                stroke_m=limits.stroke_m,
            )
    stations = [end, *(one.station_m for one in motion.intervals)]
    low, high = min(stations), max(stations)
    if low < -DRIFT or high > path.length_m + DRIFT:
        ledger.error(
            "path-end",
            "movers",
            name,
            "path",
            mover=name,
            least_m=low,
            most_m=high,
            length_m=path.length_m,
        )
