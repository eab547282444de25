"""Ramps of which nothing is left to choose: the quickest at their rate, or at their limit.

A profile is a chain of pieces of constant jerk. Under constant limits it is the closed form; under a table over speed
it follows the table from below, nowhere farther than FOLLOWS_RATIO.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from choreo.motion import rated_ramp, table_value_mps2
from choreo.motion.cubic import gained, travelled
from choreo.problem.records import Ramp
from choreo.words.records import dataclass

Floats = NDArray[np.float64]

# How far below the table the acceleration of a piece may lie, as a share of it; a third of that in the mean, so that
# time and way are those of the table to 1e-6.
FOLLOWS_RATIO = 3e-6
# A table that changes by less than this share of itself between two speeds is flat there.
FLAT = 1e-9
# Bisections for a rate that meets a prescribed length or duration: to the last bit of a float.
BISECTIONS = 60
# No ramp that is made gentler lasts longer than so many times what it takes at its limit.
LONGEST_RATIO = 50.0
# No ramp is slower than this share of its limit.
LEAST_SHARE = 1e-6
# So many profiles are remembered: neighbours of a scenario have most of their ramps in common.
MOST_KEPT = 500


@dataclass(frozen=True, slots=True)
class Part:
    """A piece of constant jerk: duration in s, signed acceleration at its start, jerk."""

    duration_s: float
    accel_mps2: float
    jerk_mps3: float


class Profile:
    """Speed over time of one ramp, from its start at u = 0 s to its end."""

    def __init__(self, start_mps: float, end_mps: float, parts: tuple[Part, ...]) -> None:
        self.start_mps = start_mps
        self.end_mps = end_mps
        self.parts = tuple(part for part in parts if part.duration_s > 0.0)
        self._begins = [0.0]
        self._ways = [0.0]
        self._speeds = [start_mps]
        for part in self.parts:
            u = part.duration_s
            way = travelled(u, self._speeds[-1], part.accel_mps2, part.jerk_mps3)
            self._begins.append(self._begins[-1] + u)
            self._ways.append(self._ways[-1] + way)
            self._speeds.append(self._speeds[-1] + gained(u, part.accel_mps2, part.jerk_mps3))

    @property
    def duration_s(self) -> float:
        return self._begins[-1]

    @property
    def way_m(self) -> float:
        return self._ways[-1]

    @property
    def rising(self) -> bool:
        """Whether speed grows: the way is convex in time then, else concave."""
        return self.end_mps >= self.start_mps

    @property
    def most_accel_mps2(self) -> float:
        """Largest magnitude of acceleration."""
        ends = (p.accel_mps2 + p.jerk_mps3 * p.duration_s for p in self.parts)
        return max(
            (abs(a) for p, e in zip(self.parts, ends, strict=True) for a in (p.accel_mps2, e)),
            default=0.0,
        )

    def jumps(self, low_s: float, high_s: float) -> float:
        """Give how far speed can leave its chord between two times because acceleration jumps there, in m/s."""
        worst = 0.0
        for begin, (before, after) in zip(self._begins[1:], pairwise(self.parts), strict=False):
            if low_s < begin < high_s:
                end = before.accel_mps2 + before.jerk_mps3 * before.duration_s
                worst += abs(after.accel_mps2 - end) * (high_s - low_s) / 4.0
        return worst

    @property
    def most_jerk_mps3(self) -> float:
        """Largest magnitude of jerk; acceleration that jumps between pieces is counted by `jumps`."""
        return max((abs(part.jerk_mps3) for part in self.parts), default=0.0)

    def at(self, u_s: float) -> tuple[float, float, float]:
        """Give way in m, speed in m/s and acceleration in m/s2 u_s seconds into the ramp."""
        if not self.parts:
            return 0.0, self.start_mps, 0.0
        index = min(max(bisect_right(self._begins, u_s) - 1, 0), len(self.parts) - 1)
        part = self.parts[index]
        u = min(max(u_s - self._begins[index], 0.0), part.duration_s)
        speed = self._speeds[index]
        way = self._ways[index] + travelled(u, speed, part.accel_mps2, part.jerk_mps3)
        accel = part.accel_mps2 + u * part.jerk_mps3
        return way, speed + gained(u, part.accel_mps2, part.jerk_mps3), accel

    def ways_until(self, speeds_mps: Floats) -> Floats:
        """Give the ways in m, any shape, that a ramp with parts has made when speeds between its two are reached."""
        sign = 1.0 if self.rising else -1.0
        begins, ways, reached = (np.array(one) for one in (self._begins, self._ways, self._speeds))
        accels = np.array([part.accel_mps2 for part in self.parts])
        jerks = np.array([part.jerk_mps3 for part in self.parts])
        durations = np.array([part.duration_s for part in self.parts])
        last = len(self.parts) - 1
        index = np.clip(np.searchsorted(sign * reached, sign * speeds_mps) - 1, 0, last)
        gain = np.maximum(sign * (speeds_mps - reached[index]), 0.0)
        accel, jerk = sign * accels[index], sign * jerks[index]
        root = accel + np.sqrt(np.maximum(accel * accel + 2.0 * jerk * gain, 0.0))
        into = np.divide(2.0 * gain, root, out=np.zeros_like(root), where=root > 0.0)
        times = begins[index] + np.clip(into, 0.0, durations[index])
        index = np.clip(np.searchsorted(begins, times, "right") - 1, 0, last)
        u = np.clip(times - begins[index], 0.0, durations[index])
        way: Floats = ways[index] + travelled(u, reached[index], accels[index], jerks[index])
        return way

    def when(self, speed_mps: float) -> float | None:
        """Give when a speed is reached, s into the ramp; None when it never is."""
        low, high = sorted((self.start_mps, self.end_mps))
        if not low <= speed_mps <= high or not self.parts:
            return None
        sign = 1.0 if self.rising else -1.0
        before = bisect_left(self._speeds, sign * speed_mps, key=lambda one: sign * one) - 1
        index = min(max(before, 0), len(self.parts) - 1)
        part = self.parts[index]
        gain = max(sign * (speed_mps - self._speeds[index]), 0.0)
        accel, jerk = sign * part.accel_mps2, sign * part.jerk_mps3
        # The earlier root of a u + j u^2 / 2 = gain, written so that nothing cancels.
        root = accel + math.sqrt(max(accel * accel + 2.0 * jerk * gain, 0.0))
        into = 2.0 * gain / root if root > 0.0 else 0.0
        return self._begins[index] + min(max(into, 0.0), part.duration_s)


@lru_cache(maxsize=MOST_KEPT)
def profile_of(ramp: Ramp, start_mps: float) -> Profile | None:
    """Give the one profile of a ramp from a speed; None where its end speed or its shape is left to choose."""
    if not ramp.to.fixed:
        return None
    end = ramp.to.lo
    if ramp.over_m is not None and ramp.lasting_s is not None:
        return _two_rates(ramp, start_mps, ramp.over_m, ramp.lasting_s)
    if ramp.rated or not _prescribed(ramp):
        return _shaped(ramp, start_mps, end, 1.0)
    return _meeting(ramp, start_mps, end)


def may_be_gentler(ramp: Ramp) -> bool:
    """Whether nothing says how quick a ramp is, and its way is in proportion to its duration then.

    Under a table with a jerk limit it is not: such a ramp is left at its limit here.
    """
    straight = len(ramp.table) == 1 or math.isinf(ramp.jerk_mps3)
    return not ramp.rated and not _prescribed(ramp) and ramp.build_up_s is None and straight


def may_be_chosen(ramp: Ramp) -> bool:
    """Whether an author leaves a ramp's rate to be chosen, and its way is in proportion to its duration then."""
    return ramp.chosen and may_be_gentler(replace(ramp, within_m=None))


def quickest_of(ramp: Ramp, start_mps: float) -> Profile | None:
    """Give the profile at all that a ramp of open rate may use."""
    return profile_of(replace(ramp.loose, within_m=None), start_mps)


def slowest_of(ramp: Ramp, start_mps: float) -> Profile | None:
    """Give the profile at the least rate that a ramp may be driven with; None where there is no such."""
    if ramp.least_mps2 is None:
        return None
    return profile_of(replace(ramp, table=((0.0, ramp.least_mps2),), within_m=None), start_mps)


def gentler(ramp: Ramp, start_mps: float, duration_s: float) -> Profile | None:
    """Give the profile at the share of its limit at which a ramp lasts so long; at its limit at least."""
    longer = replace(ramp.loose, lasting_s=duration_s)
    return _meeting(longer, start_mps, ramp.to.lo)


def way_per_time(ramp: Ramp, profile: Profile) -> float | None:
    """Give way over duration in m/s where it is the same for every share of the limit, else None.

    It is where build-up and release mirror each other (then it is the mean speed), and along a table without jerk.
    """
    if len(ramp.table) == 1 and ramp.build_up_s is None:
        return (profile.start_mps + profile.end_mps) / 2.0
    if math.isinf(ramp.jerk_mps3) and ramp.build_up_s is None:
        return profile.way_m / profile.duration_s
    return None


def _prescribed(ramp: Ramp) -> bool:
    return any(one is not None for one in (ramp.within_m, ramp.over_m, ramp.lasting_s))


def _meeting(ramp: Ramp, start_mps: float, end_mps: float) -> Profile | None:
    """The share of the limit at which a ramp is as long, or lasts as long, as prescribed; at its limit if none is."""
    full = _shaped(ramp, start_mps, end_mps, 1.0)
    wanted = ramp.lasting_s
    if wanted is None:
        wanted = ramp.over_m if ramp.over_m is not None else ramp.within_m
    if full is None or wanted is None:
        return full

    def size(profile: Profile) -> float:
        return profile.duration_s if ramp.lasting_s is not None else profile.way_m

    if size(full) >= wanted:
        return full

    def excess(share: float) -> float:
        gentler = _shaped(ramp, start_mps, end_mps, share)
        return math.inf if gentler is None else wanted - size(gentler)

    low = 1.0
    while low > LEAST_SHARE and excess(low) > 0.0:
        low /= 2.0
    return _shaped(ramp, start_mps, end_mps, _bisected(excess, low, min(2.0 * low, 1.0)))


def _two_rates(ramp: Ramp, start_mps: float, over_m: float, lasting_s: float) -> Profile | None:
    """The ramp of two constant rates that takes a length and a time: in halves of the time, else one at the limit.

    What its way has more, or less, than that of one rate is a triangle of speed over time, 2 way / time high. Where
    acceleration may not jump, or hangs on speed, build-up and release are left to choose: None. None also where no
    shape at all would do.
    """
    if len(ramp.table) > 1 or math.isfinite(ramp.jerk_mps3) or ramp.build_up_s is not None:
        return None
    change, most = ramp.to.lo - start_mps, ramp.table[0][1]
    more = over_m - (start_mps + ramp.to.lo) / 2.0 * lasting_s
    high = 2.0 * more / lasting_s
    harder_first = (more > 0.0) == (change > 0.0)
    spare = most * lasting_s - abs(change)
    # The time at the limit, where the halves would ask for more.
    hard = 2.0 * abs(more) / spare if spare > 0.0 else 0.0
    for first_s in (lasting_s / 2.0, hard if harder_first else lasting_s - hard):
        rest_s = lasting_s - first_s
        if min(first_s, rest_s) <= 0.0:
            rates = [change / lasting_s]
        else:
            gained = change * first_s / lasting_s + high
            rates = [gained / first_s, (change - gained) / rest_s]
        parts = tuple(
            Part(time, rate, 0.0) for time, rate in zip((first_s, rest_s), rates, strict=False)
        )
        made = Profile(start_mps, ramp.to.lo, parts)
        even = all(rate * change >= 0.0 and abs(rate) <= most * (1.0 + FLAT) for rate in rates)
        if even and math.isclose(made.way_m, over_m, rel_tol=FLAT):
            return made
    return None


def _shaped(ramp: Ramp, start_mps: float, end_mps: float, share: float) -> Profile | None:
    sign = 1.0 if end_mps >= start_mps else -1.0
    if len(ramp.table) == 1:
        rate = share * ramp.table[0][1]
        build_up = ramp.jerk_mps3 if ramp.build_up_s is None else rate / ramp.build_up_s
        shape = rated_ramp(
            start_mps,
            end_mps,
            rate,
            build_up_jerk_mps3=build_up,
            release_jerk_mps3=ramp.jerk_mps3,
        )
        peak = sign * shape.peak_mps2
        rise = Part(shape.build_up_s, 0.0, _slope(peak, shape.build_up_s))
        fall = Part(shape.release_s, peak, -_slope(peak, shape.release_s))
        return Profile(start_mps, end_mps, (rise, Part(shape.constant_s, peak, 0.0), fall))
    if ramp.build_up_s is not None:
        return None
    return _along_table(ramp, start_mps, end_mps, share)


def _slope(change: float, duration_s: float) -> float:
    return change / duration_s if duration_s > 0.0 else 0.0


def _along_table(ramp: Ramp, start_mps: float, end_mps: float, share: float) -> Profile | None:
    """Follow a share of a table over speed; build-up and release by the jerk limit.

    None where the table itself asks for more jerk than there is: it can't be followed then.
    """
    low, high = sorted((start_mps, end_mps))
    rising = end_mps >= start_mps

    def limit(speed: float) -> float:
        return share * table_value_mps2(ramp.table, speed)

    jerk = ramp.jerk_mps3
    first, last = low, high
    if math.isfinite(jerk):
        first = _meets(lambda v: math.sqrt(2.0 * jerk * (v - low)) - limit(v), low, high)
        last = _meets(lambda v: limit(v) - math.sqrt(2.0 * jerk * (high - v)), low, high)
    if first >= last:
        # The jerk alone bounds it: build-up and release meet below the table.
        peak = math.sqrt(jerk * (high - low))
        speeds = [low, (low + high) / 2.0, high]
        accels = [0.0, peak, 0.0]
    else:
        speeds, accels = _nodes(ramp, first, last, limit)
        if math.isfinite(jerk):
            if _too_steep(speeds, accels, jerk):
                return None
            speeds, accels = [low, *speeds, high], [0.0, *accels, 0.0]
    durations = [
        2.0 * (v_1 - v_0) / (a_0 + a_1)
        for (v_0, v_1), (a_0, a_1) in zip(pairwise(speeds), pairwise(accels), strict=True)
    ]
    steps = list(zip(durations, pairwise(accels), strict=True))
    if rising:
        parts = [Part(t, a_0, _slope(a_1 - a_0, t)) for t, (a_0, a_1) in steps]
    else:
        parts = [Part(t, -a_1, _slope(a_1 - a_0, t)) for t, (a_0, a_1) in reversed(steps)]
    return Profile(start_mps, end_mps, tuple(parts))


def _too_steep(speeds: list[float], accels: list[float], jerk: float) -> bool:
    """The change of acceleration over time along the table, a da/dv, against the jerk."""
    return any(
        abs(a_1 * a_1 - a_0 * a_0) > 2.0 * jerk * (v_1 - v_0) * (1.0 + 1e-9)
        for (v_0, v_1), (a_0, a_1) in zip(pairwise(speeds), pairwise(accels), strict=True)
    )


def _nodes(
    ramp: Ramp, first: float, last: float, limit: Callable[[float], float]
) -> tuple[list[float], list[float]]:
    """Speeds and accelerations between which a straight line over time stays just below the table.

    With both ends on the table, a^2 is linear in v under constant jerk while the table is linear in v: in the middle
    the line is higher by r^2 / 8 of the acceleration, where r is the step of its logarithm. The nodes lie lower by
    that.
    """
    knots = [first, *(v for v, _ in ramp.table if first < v < last), last]
    speeds, accels = [first], [limit(first)]
    for low, high in pairwise(knots):
        step = abs(math.log(limit(high) / limit(low)))
        count = max(math.ceil(step / math.sqrt(8.0 * FOLLOWS_RATIO)), 1)
        lower = (step / count) ** 2 / 8.0
        accels[-1] = min(accels[-1], limit(low) * (1.0 - lower))
        for part in range(1, count + 1):
            # Even steps of the logarithm: the acceleration is linear in speed between two rows.
            accel = limit(low) * (limit(high) / limit(low)) ** (part / count)
            # A flat stretch may rise by a rounding: divided by that, the share would be anything.
            flat = step < FLAT
            rise = limit(high) - limit(low)
            share = part / count if flat else (accel - limit(low)) / rise
            speeds.append(high if part == count else low + (high - low) * share)
            accels.append(accel * (1.0 - lower))
    return speeds, accels


def _meets(rising: Callable[[float], float], low: float, high: float) -> float:
    """Where a rising function of speed becomes positive; an end where it does so nowhere inside."""
    if rising(high) <= 0.0:
        return high
    if rising(low) >= 0.0:
        return low
    return _bisected(rising, low, high)


def _bisected(rising: Callable[[float], float], low: float, high: float) -> float:
    for _ in range(BISECTIONS):
        middle = (low + high) / 2.0
        if rising(middle) > 0.0:
            high = middle
        else:
            low = middle
    return (low + high) / 2.0
