"""Does each mover stay within what it can do, at every instant and every place?"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from choreo.geometry import Path, cusps_of
from choreo.scenario import Limits, Mover
from choreo.verification.integration import Motion
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


def _judge(
    ledger: Ledger,
    code: str,
    keys: tuple[str | int, ...],
    values: Array,
    allowed: Array,
    times_s: Array,
    motion: Motion,
) -> None:
    """Find the worst use of a limit; over it, report when, where and from when to when."""
    if not len(values):
        return
    ratios = values / np.maximum(allowed, LIMIT_FLOOR)
    worst = int(ratios.argmax())
    ledger.use(float(ratios[worst]))
    over = values > allowed * (1.0 + LIMIT_RATIO) + LIMIT_FLOOR
    if not over.any():
        return
    station_m, _ = motion.state(float(times_s[worst]))
    ledger.error(
        code,
        *keys,
        mover=str(keys[1]),
        value=float(values[worst]),
        limit=float(allowed[worst]),
        time_s=float(times_s[worst]),
        station_m=station_m,
        from_s=float(times_s[over].min()),
        until_s=float(times_s[over].max()),
    )


def _check_speed(ledger: Ledger, name: str, limits: Limits, motion: Motion) -> None:
    peaks, _ = _turning_points(motion)
    times = np.concatenate((motion.times_s, peaks))
    speeds = motion.speeds_mps
    if len(peaks):
        speeds = np.concatenate((speeds, motion.at(peaks)[1]))
    allowed = np.full(len(speeds), limits.speed_mps)
    _judge(ledger, "speed", ("movers", name, "limits", "speed"), speeds, allowed, times, motion)


def _turning_points(motion: Motion) -> tuple[Array, NDArray[np.int64]]:
    """Times inside intervals at which acceleration passes zero, hence speed peaks, and the intervals."""
    a_0, a_1 = motion.accels_from_mps2, motion.accels_to_mps2
    index = np.flatnonzero(a_0 * a_1 < 0.0)
    length = np.diff(motion.times_s)[index]
    return motion.times_s[index] + length * a_0[index] / (a_0[index] - a_1[index]), index


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
    index, low, high = _knot_free(motion, knots)
    # Where acceleration is nowhere above zero the table has no say.
    rises = np.maximum(motion.accels_from_mps2, motion.accels_to_mps2)[index] > 0.0
    index, low, high = index[rises], low[rises], high[rises]
    if not len(index):
        return
    offsets = [low, (low + high) / 2, high]
    looks = [_excess(motion, index, u, knots, table) for u in offsets]
    excess = [look[0] for look in looks]
    bend = excess[0] - 2 * excess[1] + excess[2]
    slope = (excess[2] - excess[0]) / 2
    # Vertex of the parabola through three equidistant values, in half lengths from the middle.
    vertex = np.divide(-slope, bend, out=np.zeros_like(bend), where=bend < 0.0)
    offsets.append(low + (high - low) * (np.clip(vertex, -1.0, 1.0) + 1.0) / 2)
    looks.append(_excess(motion, index, offsets[-1], knots, table))
    values, allowed, times = [], [], []
    for u, (_, accel, limit) in zip(offsets, looks, strict=True):
        rising = accel > 0.0
        values.append(accel[rising])
        allowed.append(limit[rising])
        times.append((motion.times_s[index] + u)[rising])
    _judge(
        ledger,
        "acceleration",
        ("movers", name, "limits", "accelerate"),
        np.concatenate(values),
        np.concatenate(allowed),
        np.concatenate(times),
        motion,
    )


def _check_one_rate(ledger: Ledger, name: str, limit_mps2: float, motion: Motion) -> None:
    """The same limit at all speeds: acceleration is linear between nodes, so that its ends tell."""
    values = np.concatenate((motion.accels_from_mps2, motion.accels_to_mps2))
    times = np.concatenate((motion.times_s[:-1], motion.times_s[1:]))
    rising = values > 0.0
    allowed = np.full(int(rising.sum()), limit_mps2)
    keys = ("movers", name, "limits", "accelerate")
    _judge(ledger, "acceleration", keys, values[rising], allowed, times[rising], motion)


def _excess(
    motion: Motion, index: NDArray[np.int64], u: Array, knots: Array, table: Array
) -> tuple[Array, Array, Array]:
    """Acceleration over the table, acceleration and table value u seconds into intervals."""
    accel, speed = _inside(motion, index, u)
    limit = np.interp(speed, knots, table)
    return accel - limit, accel, limit


def _inside(motion: Motion, index: NDArray[np.int64], u: Array) -> tuple[Array, Array]:
    """Acceleration and speed u seconds into intervals, both one-sided at their ends."""
    length = motion.times_s[index + 1] - motion.times_s[index]
    a_0 = motion.accels_from_mps2[index]
    # An interval without length has no inside: its start counts.
    share = np.divide(u, length, out=np.zeros(np.broadcast(u, length).shape), where=length > 0)
    a_u = a_0 + (motion.accels_to_mps2[index] - a_0) * share
    return a_u, motion.speeds_mps[index] + u * (a_0 + a_u) / 2


def _knot_free(motion: Motion, knots: Array) -> tuple[NDArray[np.int64], Array, Array]:
    """Cut intervals where speed peaks or passes a knot; give interval, start and end offset of each part."""
    count = len(motion.accels_from_mps2)
    lengths = np.diff(motion.times_s)
    peaks, peaked = _turning_points(motion)
    index = np.concatenate((np.arange(count), peaked))
    offset = np.concatenate((np.zeros(count), peaks - motion.times_s[peaked]))
    index, low, high = _parts(index, offset, lengths)
    # All knots that are passed are looked for at once; shape (knots, parts) says which parts pass which.
    over_low = _inside(motion, index, low)[1] - knots[:, None]
    over_high = _inside(motion, index, high)[1] - knots[:, None]
    knot, crossing = np.nonzero(over_low * over_high < 0.0)
    where, passed_mps = index[crossing], knots[knot]
    before, after = low[crossing], high[crossing]
    sign = np.sign(over_low[knot, crossing])
    for _ in range(HALVINGS if len(where) else 0):
        middle = (before + after) / 2
        same = (_inside(motion, where, middle)[1] - passed_mps) * sign > 0.0
        before, after = np.where(same, middle, before), np.where(same, after, middle)
    return _parts(np.concatenate((index, where)), np.concatenate((low, after)), lengths)


def _parts(
    index: NDArray[np.int64], offset: Array, lengths: Array
) -> tuple[NDArray[np.int64], Array, Array]:
    order = np.lexsort((offset, index))
    index, low = index[order], offset[order]
    last = np.append(index[1:] != index[:-1], True)
    high = np.where(last, lengths[index], np.append(low[1:], 0.0))
    return index, low, high


def _check_braking(ledger: Ledger, name: str, limits: Limits, motion: Motion) -> None:
    values = np.concatenate((-motion.accels_from_mps2, -motion.accels_to_mps2))
    times = np.concatenate((motion.times_s[:-1], motion.times_s[1:]))
    allowed = np.full(len(values), limits.brake_mps2)
    _judge(ledger, "braking", ("movers", name, "limits", "brake"), values, allowed, times, motion)


def _check_jerk(ledger: Ledger, mover: Mover, script: Script, motion: Motion) -> None:
    """Jerk within pieces, and jumps of acceleration between them: a jump is an infinite jerk."""
    name, limit = script.name, mover.limits.jerk_mps3
    change, lasts = np.abs(motion.accels_to_mps2 - motion.accels_from_mps2), np.diff(motion.times_s)
    jerks = np.divide(change, lasts, out=np.zeros(len(change)), where=lasts > 0)
    if math.isfinite(limit):
        allowed = np.full(len(jerks), limit)
        keys = ("movers", name, "limits", "jerk")
        _judge(ledger, "jerk", keys, jerks, allowed, motion.times_s[:-1], motion)
    before = np.concatenate(([0.0], motion.accels_to_mps2))
    after = np.concatenate((motion.accels_from_mps2, [0.0]))
    for node in np.flatnonzero(np.abs(after - before) > JUMP_MPS2):
        time_s = float(motion.times_s[node])
        if _may_jump(script, motion, time_s, float(before[node]), float(after[node]), limit):
            continue
        ledger.use(math.inf)
        ledger.error(
            "jerk-jump",
            "movers",
            name,
            "limits",
            "jerk",
            mover=name,
            from_mps2=float(before[node]),
            to_mps2=float(after[node]),
            time_s=time_s,
            station_m=float(motion.stations_m[node]),
        )
        return


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
    bends = [(low, high) for low, high, k_0, k_1 in path.stretches() if k_0 != 0.0 or k_1 != 0.0]
    if not motion.moves or not bends:
        return
    # From the last node before the first bend until the first one after the last.
    first = max(int(motion.stations_m.searchsorted(bends[0][0])) - 1, 0)
    last = int(motion.stations_m.searchsorted(bends[-1][1], side="right"))
    from_s, until_s = motion.times_s[first], motion.times_s[min(last, len(motion.times_s) - 1)]
    if until_s <= from_s:
        return
    clock = np.linspace(from_s, until_s, max(2, math.ceil((until_s - from_s) / LATERAL_CLOCK_S)))
    stations, speeds, _ = motion.at(clock)
    joints, at_s, at_mps = _joints(motion, path, clock, stations, speeds)
    bent = (stations >= bends[0][0]) & (stations <= bends[-1][1])
    stations = np.concatenate((stations[bent], joints - SIDE_M, joints + SIDE_M))
    speeds = np.concatenate((speeds[bent], at_mps, at_mps))
    times = np.concatenate((clock[bent], at_s, at_s))
    values = sideways_mps2(path, stations, speeds)
    allowed = np.full(len(values), limits.lateral_mps2)
    keys = ("movers", name, "limits", "lateral")
    _judge(ledger, "lateral", keys, values, allowed, times, motion)


def _check_together(ledger: Ledger, name: str, limits: Limits, motion: Motion, path: Path) -> None:
    """Braking or accelerating and cornering at once, as a share of the ellipse."""
    if not motion.moves:
        return
    times, values = shares_used(limits, motion, path)
    keys = ("movers", name, "limits", "combined")
    _judge(ledger, "combined", keys, values, np.ones(len(values)), times, motion)


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
        if not motion.stations_m[0] < cusp_m < motion.stations_m[-1]:
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
    start, end = float(motion.stations_m[0]), float(motion.stations_m[-1])
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
    low, high = float(motion.stations_m.min()), float(motion.stations_m.max())
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
