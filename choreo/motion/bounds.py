"""Least time and distance of a ramp: bounds that hold for every shape inside the limits.

They prove impossibility, never possibility, so each must be too small rather than too large.
"""

from __future__ import annotations

import math
from functools import lru_cache
from itertools import pairwise

from choreo.motion.cubic import travelled
from choreo.motion.ramp import Table, rated_ramp, table_value_mps2

# Halvings of an interval of speed: below the rounding of any speed.
BISECTIONS = 60
# Relative change of a table's value below which a power series stands for its logarithm: the closed form loses about
# 1e-16 / change of its digits, the series with so many terms 1e-3**6 / 8.
SERIES_BELOW = 1e-3
SERIES_TERMS = 6
# So many bounds are remembered: neighbours of a scenario have most of their ramps in common.
MOST_KEPT = 500


def least_ramp_time_s(start_mps: float, end_mps: float, table: Table, jerk_mps3: float) -> float:
    """Give a time in s that no ramp between two speeds can beat.

    table: (speed_mps, accel_mps2) pairs; jerk_mps3 may be inf. The larger of two valid bounds: the
    jerk-limited ramp at the table's best value, and the table followed exactly without jerk limit.
    """
    best = _best_value_mps2(start_mps, end_mps, table)
    jerky = rated_ramp(
        start_mps, end_mps, best, build_up_jerk_mps3=jerk_mps3, release_jerk_mps3=jerk_mps3
    ).duration_s
    return max(jerky, _over_table(start_mps, end_mps, table, jerk_mps3)[0])


def least_ramp_distance_m(
    start_mps: float, end_mps: float, table: Table, jerk_mps3: float
) -> float:
    """Give a distance in m that no ramp between two speeds can beat; arguments as for the time."""
    best = _best_value_mps2(start_mps, end_mps, table)
    jerky = rated_ramp(
        start_mps, end_mps, best, build_up_jerk_mps3=jerk_mps3, release_jerk_mps3=jerk_mps3
    ).distance_m
    return max(jerky, _over_table(start_mps, end_mps, table, jerk_mps3)[1])


def least_time_over_s(
    way_m: float, start_mps: float, end_mps: float, table: Table, jerk_mps3: float
) -> float:
    """Give a time in s that no rise to end_mps followed by a hold can beat over way_m.

    Time lost against going at end_mps all the way is T - D / end_mps of the ramp. It is least for the profile
    that is fastest at every instant, so each relaxation's own pair bounds it; pairs must not be mixed.
    """
    best = _best_value_mps2(start_mps, end_mps, table)
    jerky = rated_ramp(
        start_mps, end_mps, best, build_up_jerk_mps3=jerk_mps3, release_jerk_mps3=jerk_mps3
    )
    pairs = [
        (jerky.duration_s, jerky.distance_m),
        _over_table(start_mps, end_mps, table, jerk_mps3),
    ]
    return max(time + (way_m - distance) / end_mps for time, distance in pairs)


def least_lost_m(
    start_mps: float, end_mps: float, table: Table, jerk_mps3: float
) -> tuple[float, float]:
    """Give bounds of the way lost on the higher speed, and of the way gained on the lower one, in m.

    Lost: faster speed * T - D; gained: D - slower speed * T. Both are least for the ramp that is quickest at every
    instant, so each relaxation's own pair of T and D bounds them.
    """
    best = _best_value_mps2(start_mps, end_mps, table)
    jerky = rated_ramp(
        start_mps, end_mps, best, build_up_jerk_mps3=jerk_mps3, release_jerk_mps3=jerk_mps3
    )
    pairs = [
        (jerky.duration_s, jerky.distance_m),
        _over_table(start_mps, end_mps, table, jerk_mps3),
    ]
    slow, fast = sorted((start_mps, end_mps))
    lost = max(fast * time - distance for time, distance in pairs)
    gained = max(distance - slow * time for time, distance in pairs)
    return lost, gained


def least_between(
    start_mps: float, end_mps: float, table: Table, jerk_mps3: float, span_mps: tuple[float, float]
) -> tuple[float, float]:
    """Give time in s and distance in m of a ramp's part between two speeds, as no ramp between its ends can beat them.

    span_mps: the two speeds, the lower first, both between the ramp's ends. A ramp of any shape passes each of those
    speeds at least so long, so what it gains on a lower speed, or loses on a higher one, is at least what these do.
    """
    low, high = sorted((start_mps, end_mps))
    ends = [_since_slow(min(max(one, low), high), low, high, table, jerk_mps3) for one in span_mps]
    return ends[1][0] - ends[0][0], ends[1][1] - ends[0][1]


def _since_slow(
    speed_mps: float, low: float, high: float, table: Table, jerk_mps3: float
) -> tuple[float, float]:
    """Time and distance from the lower end of a ramp to a speed, nowhere slower than under the table and the jerk."""
    left, right = _bounded_by_table(low, high, table, jerk_mps3)
    time, distance = _along_table(left, right, table) if speed_mps > right else (0.0, 0.0)
    if left < speed_mps <= right:
        time, distance = _along_table(left, speed_mps, table)
    if left > low:
        lasts = math.sqrt(2 * (min(speed_mps, left) - low) / jerk_mps3)
        time += lasts
        distance += travelled(lasts, low, 0.0, jerk_mps3)
    if speed_mps > right:
        whole, still = (math.sqrt(2 * (high - one) / jerk_mps3) for one in (right, speed_mps))
        time += whole - still
        distance += travelled(whole, high, 0.0, -jerk_mps3) - travelled(
            still, high, 0.0, -jerk_mps3
        )
    return time, distance


@lru_cache(maxsize=MOST_KEPT)
def _bounded_by_table(
    low: float, high: float, table: Table, jerk_mps3: float
) -> tuple[float, float]:
    """The speeds between which the table bounds a ramp, not the jerk; the middle twice where it nowhere does."""
    if not math.isfinite(jerk_mps3):
        return low, high
    left = low + _meets_table(low, high, table, jerk_mps3, 1)
    right = high - _meets_table(low, high, table, jerk_mps3, -1)
    return (left, right) if left < right else ((low + high) / 2, (low + high) / 2)


def _best_value_mps2(start_mps: float, end_mps: float, table: Table) -> float:
    low, high = sorted((start_mps, end_mps))
    inside = [accel for speed, accel in table if low <= speed <= high]
    return max([*inside, table_value_mps2(table, low), table_value_mps2(table, high)])


@lru_cache(maxsize=MOST_KEPT)
def _over_table(
    start_mps: float, end_mps: float, table: Table, jerk_mps3: float
) -> tuple[float, float]:
    """Time and distance of the profile that is nowhere slower than any ramp under the table and the jerk.

    Near both ends the jerk alone bounds it: a da/dv = j gives a^2 = 2 j |v - v_end|. From the first speed at which that
    meets the table the table bounds it. Taking the larger acceleration where bounds cross again only widens.
    """
    low, high = sorted((start_mps, end_mps))
    left, right = low, high
    if math.isfinite(jerk_mps3):
        left = low + _meets_table(low, high, table, jerk_mps3, 1)
        right = high - _meets_table(low, high, table, jerk_mps3, -1)
    if left >= right:
        return 0.0, 0.0  # the table never binds: the jerk-limited ramp is the bound
    time, distance = _along_table(left, right, table)
    for speed, gained, sign in ((low, left - low, 1.0), (high, high - right, -1.0)):
        if gained > 0:
            lasts = math.sqrt(2 * gained / jerk_mps3)
            time += lasts
            distance += travelled(lasts, speed, 0.0, sign * jerk_mps3)
    return time, distance


def _meets_table(low: float, high: float, table: Table, jerk_mps3: float, side: int) -> float:
    """Speed gained from an end until the jerk's bound first reaches the table; the whole range if never."""
    base = low if side > 0 else high
    knots = [abs(speed - base) for speed, _ in table if low < speed < high]
    before = 0.0
    for gained in [*sorted(knots), high - low]:
        if math.sqrt(2 * jerk_mps3 * gained) >= table_value_mps2(table, base + side * gained):
            # Between two knots the root is a rising concave curve against a line: bisect.
            inside, outside = before, gained
            for _ in range(BISECTIONS):
                middle = (inside + outside) / 2
                value = table_value_mps2(table, base + side * middle)
                if math.sqrt(2 * jerk_mps3 * middle) < value:
                    inside = middle
                else:
                    outside = middle
            return inside
        before = gained
    return high - low


def _along_table(low: float, high: float, table: Table) -> tuple[float, float]:
    """Integrals of dv/a and v dv/a over the piecewise linear table, exact segment by segment."""
    knots = [low, *(speed for speed, _ in table if low < speed < high), high]
    time = distance = 0.0
    for left, right in pairwise(knots):
        accel, width = table_value_mps2(table, left), right - left
        rise = (table_value_mps2(table, right) - accel) / accel
        mean, moment = _slowness(rise)
        time += width / accel * mean
        distance += width / accel * (left * mean + width * moment)
    return time, distance


def _slowness(rise: float) -> tuple[float, float]:
    """Integrals of 1 / (1 + rise u) and u / (1 + rise u) over u from 0 to 1.

    rise: > -1. Their closed forms cancel where it is small; there their power series takes over.
    """
    if abs(rise) < SERIES_BELOW:
        powers = [(-rise) ** k for k in range(SERIES_TERMS)]
        mean = sum(power / (k + 1) for k, power in enumerate(powers))
        return mean, sum(power / (k + 2) for k, power in enumerate(powers))
    log = math.log1p(rise)
    return log / rise, (rise - log) / rise**2
