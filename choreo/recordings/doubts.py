"""What is odd about recorded channels: lost fixes, frozen positions, jumps, channels that contradict each other."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from choreo.recordings.places import COURSE_MPS, courses_of
from choreo.recordings.record import Floats, Remark, Track

Flags = NDArray[np.bool_]
Stretches = tuple[tuple[float, float], ...]

# What is missing for no longer than this (s) is bridged by a straight line. Common practice, no source.
BRIDGED_S = 0.05
# A position that stays the same while it should have moved by so many of its steps, and by this (m), is frozen.
FROZEN_STEPS = 4.0
FROZEN_M = 0.03
# Slower than this (m/s) nobody says whether it moves.
MOVES_MPS = 0.3
# A step of time this many times the usual one is a gap.
GAP_RATIO = 1.5
# A place farther from where its speed leads than this (m) is a jump.
JUMP_M = 0.3
# A place that jumps and is back within this long (s) was off meanwhile; fewer samples are spikes.
BACK_S, LEAST_AWAY = 0.5, 4
# It is back where it is as far as it drove, or no farther than this share of its jumps.
BACK_SHARE = 0.25
# Of a speed that only places tell, the middle of so many samples is what a single one is compared with.
MIDDLE_OF = 25
# By how much a heading may differ from the course, and the way by speed from that by places.
MOST_TURN_RAD = math.radians(30.0)
MOST_WAY_RATIO = 1.2
LEAST_WAY_M = 5.0
# In a second in which it goes no farther than this (m) it may as well stand.
MOVED_M = 0.3
# Of many stretches so many are told.
TOLD = 3


def stretches_of(flags: Flags) -> list[tuple[int, int]]:
    """Give the stretches in which a flag is up, shape (n,): first index and the one after the last."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], flags.astype(np.int8), [0]))))
    return [(int(first), int(last)) for first, last in edges.reshape(-1, 2)]


def lost_of(track: Track) -> Flags:
    """Say where nothing is known of a mover, shape (n,)."""
    needed = (track.x_m, track.y_m, track.speed_mps, track.heading_rad)
    return np.asarray(~np.isfinite(np.stack(needed)).all(axis=0))


def frozen_of(
    name: str, time_s: Floats, x_m: Floats, y_m: Floats, speed_mps: Floats
) -> tuple[Flags, list[Remark]]:
    """Say where a recorded place stays the same although its mover moves, each of shape (n,)."""
    remarks: list[Remark] = []
    frozen = np.zeros(len(time_s), dtype=bool)
    same = (np.diff(x_m, prepend=math.nan) == 0.0) & (np.diff(y_m, prepend=math.nan) == 0.0)
    moving = np.nan_to_num(speed_mps) > MOVES_MPS
    held = _held(same & moving, moving)
    # Its usual step from one place to the next, where it changes.
    stepped = np.hypot(np.diff(x_m, prepend=math.nan), np.diff(y_m, prepend=math.nan))
    changes = stepped[moving & (stepped > 0.0)]
    usual_m = float(np.median(changes)) if len(changes) else 0.0
    for first, last in stretches_of(same & moving):
        missed = float(np.nansum(speed_mps[first:last] * np.diff(time_s[first - 1 : last])))
        if last - first >= 2 * held and missed > max(FROZEN_M, FROZEN_STEPS * usual_m):
            frozen[first:last] = True
    if frozen.any():
        where = _where(time_s, stretches_of(frozen))
        remarks.append(Remark(f"{name}: its place is frozen while it moves, {where}", odd=True))
    if held > 1:
        remarks.append(Remark(f"{name}: its place changes with every {held}th sample only"))
    return frozen, remarks


def _held(same: Flags, moving: Flags) -> int:
    """Every which sample a place changes where it moves; 1 where each does."""
    if not moving.any():
        return 1
    return round(1.0 / max(1.0 - float(same[moving].mean()), 0.01))


def off_and_back(
    name: str, time_s: Floats, x_m: Floats, y_m: Floats, speed_mps: Floats | None
) -> tuple[Flags, list[Remark]]:
    """Say where a recorded place jumps away and is back soon after, each of shape (n,). speed_mps: None: not known."""
    flags = np.zeros(len(time_s), dtype=bool)
    steps, gone = np.diff(time_s), np.hypot(np.diff(x_m), np.diff(y_m))
    usual = _middle(gone / steps) if speed_mps is None else 0.5 * (speed_mps[1:] + speed_mps[:-1])
    ways = np.nan_to_num(usual * steps)
    off = np.abs(gone - ways)
    least = max(JUMP_M, 10.0 * float(np.nanmedian(off)) if np.isfinite(off).any() else 0.0)
    far = np.flatnonzero(off > least)
    sums = np.concatenate(([0.0], np.cumsum(ways)))
    for out, back in pairwise(far):
        lasts = time_s[back + 1] - time_s[out]
        if flags[out] or back - out < LEAST_AWAY or lasts > BACK_S:
            continue
        moved = math.hypot(x_m[back + 1] - x_m[out], y_m[back + 1] - y_m[out])
        as_driven = abs(moved - (sums[back + 1] - sums[out])) < least
        if as_driven or moved < BACK_SHARE * min(gone[out], gone[back]):
            flags[out + 1 : back + 1] = True
    if not flags.any():
        return flags, []
    where = _where(time_s, stretches_of(flags))
    return flags, [
        Remark(f"{name}: its place is elsewhere and back, {where}: lost there", odd=True)
    ]


def _middle(values: Floats) -> Floats:
    """The middle of each value's neighbours, shape (n,)."""
    half = min(MIDDLE_OF // 2, (len(values) - 1) // 2)
    if half < 1:
        return values
    padded = np.pad(values, half, mode="edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1)
    return np.asarray(np.median(windows, axis=1))


def bridged(
    name: str, time_s: Floats, track: Track, lost: Flags
) -> tuple[Track, Stretches, list[Remark]]:
    """Bridge short stretches, leave long ones nan; give what stays unknown, in s. lost: shape (n,)."""
    lost = lost.copy()
    remarks: list[Remark] = []
    short, long = [], []
    for first, last in stretches_of(lost):
        inside = first > 0 and last < len(time_s)
        if inside and time_s[last] - time_s[first - 1] <= BRIDGED_S + 1e-9:
            short.append((first, last))
        else:
            long.append((first, last))
    if short:
        remarks.append(
            Remark(
                f"{name}: {_count(len(short), 'short loss')} of its fix bridged, none longer than {BRIDGED_S:g} s"
            )
        )
    if long:
        remarks.append(Remark(f"{name}: nothing is known of it {_where(time_s, long)}", odd=True))
    columns: list[Floats | None] = []
    for column in (track.x_m, track.y_m, track.heading_rad, track.speed_mps, track.accel_mps2):
        if column is None:
            columns.append(None)
            continue
        column = column.copy()
        known = ~lost & np.isfinite(column)
        for first, last in short:
            if known.any():
                column[first:last] = np.interp(time_s[first:last], time_s[known], column[known])
        for first, last in long:
            column[first:last] = math.nan
        columns.append(column)
    x, y, heading, speed, accel = columns
    if x is None or y is None or heading is None or speed is None:
        raise AssertionError("only an acceleration may be missing")
    unknown = [
        (float(time_s[max(first - 1, 0)]), float(time_s[min(last, len(time_s) - 1)]))
        for first, last in long
    ]
    return Track(x, y, heading, speed, accel, track.signals), tuple(unknown), remarks


def time_gaps(time_s: Floats) -> tuple[Stretches, list[Remark]]:
    """Give the gaps of a clock, shape (n,), that are longer than what is bridged, in s."""
    steps = np.diff(time_s)
    usual = float(np.median(steps))
    wide = np.flatnonzero(steps > GAP_RATIO * usual)
    remarks = []
    if len(wide):
        shown = ", ".join(f"{time_s[i]:.2f} to {time_s[i + 1]:.2f} s" for i in wide[:TOLD])
        more = "" if len(wide) <= TOLD else f" and {len(wide) - TOLD} more"
        remarks.append(Remark(f"{_count(len(wide), 'gap')} in time: {shown}{more}", odd=True))
    gaps = tuple((float(time_s[i]), float(time_s[i + 1])) for i in wide if steps[i] > BRIDGED_S)
    return gaps, remarks


def contradictions(name: str, time_s: Floats, track: Track) -> Iterator[tuple[str, str]]:
    """Give what channels of a mover say against each other, and what to write instead. time_s: shape (n,)."""
    known = np.isfinite(track.x_m) & np.isfinite(track.speed_mps) & np.isfinite(track.heading_rad)
    if known.sum() < 3:
        return
    times, x, y, speed, heading = (
        one[known] for one in (time_s, track.x_m, track.y_m, track.speed_mps, track.heading_rad)
    )
    steps = np.diff(times)
    gone = np.concatenate(([0.0], np.cumsum(0.5 * (speed[1:] + speed[:-1]) * steps)))
    # Of whole seconds: noise of a place adds nothing then.
    every = max(round(1.0 / float(np.median(steps))), 1)
    by_speeds = np.diff(gone[::every])
    by_places = np.hypot(np.diff(x[::every]), np.diff(y[::every]))
    # Who stands for minutes would walk by the noise of his place alone.
    moves = (by_speeds > MOVED_M) | (by_places > MOVED_M)
    by_speed, by_place = float(by_speeds[moves].sum()), float(by_places[moves].sum())
    if max(by_speed, by_place) > LEAST_WAY_M:
        ratio = by_speed / max(by_place, 1e-9)
        if not 1.0 / MOST_WAY_RATIO < ratio < MOST_WAY_RATIO:
            yield (
                f"the speed of {name} adds up to {by_speed:.1f} m, its places to {by_place:.1f} m",
                "Look at both units (km/h taken for m/s makes 3.6 times the way), and whether both are of this mover.",
            )
            return
    moving = speed > 2.0 * COURSE_MPS
    if moving.sum() > 10:
        course = courses_of(times, _smooth(x, every // 5), _smooth(y, every // 5))
        off = np.abs(np.angle(np.exp(1j * (heading - course))))[moving]
        middle = float(np.median(off))
        if MOST_TURN_RAD < middle < math.pi - MOST_TURN_RAD:
            yield (
                f"{name} points {math.degrees(middle):.0f} deg beside where it drives",
                "Look at `from` and `clockwise` of its heading, and at which of its places comes first.",
            )


def _smooth(values: Floats, over: int) -> Floats:
    if over < 2:
        return values
    kernel = np.ones(over) / over
    padded = np.concatenate((np.full(over, values[0]), values, np.full(over, values[-1])))
    return np.asarray(np.convolve(padded, kernel, mode="same")[over:-over])


def jumps_of(name: str, time_s: Floats, track: Track) -> tuple[tuple[float, ...], list[Remark]]:
    """Give when places are not where speed leads, in s, and tell it. time_s: shape (n,)."""
    steps = np.diff(time_s)
    way = 0.5 * (track.speed_mps[1:] + track.speed_mps[:-1]) * steps
    off = np.abs(np.hypot(np.diff(track.x_m), np.diff(track.y_m)) - way)
    usual = float(np.nanmedian(off)) if np.isfinite(off).any() else 0.0
    far = np.flatnonzero((off > max(JUMP_M, 10.0 * usual)) & (steps <= BRIDGED_S))
    if not len(far):
        return (), []
    shown = ", ".join(f"by {off[i]:.2f} m at {time_s[i + 1]:.2f} s" for i in far[:TOLD])
    more = "" if len(far) <= TOLD else f" and {len(far) - TOLD} more"
    told = Remark(f"{name}: its place jumps {shown}{more}", odd=True)
    return tuple(float(time_s[i + 1]) for i in far), [told]


def _where(time_s: Floats, stretches: list[tuple[int, int]]) -> str:
    shown = ", ".join(
        f"from {time_s[first]:.2f} to {time_s[last - 1]:.2f} s"
        if last - first > 1
        else f"at {time_s[first]:.2f} s"
        for first, last in stretches[:TOLD]
    )
    return shown if len(stretches) <= TOLD else f"{shown} and {len(stretches) - TOLD} times more"


def _count(number: int, what: str) -> str:
    plural = what if number == 1 else f"{what}es" if what.endswith("s") else f"{what}s"
    return f"{number} {plural}"
