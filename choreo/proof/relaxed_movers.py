"""One mover in the relaxation: its start, its phases between their least and most, its room and its stroke."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import assert_never

from choreo.motion import least_lost_m, least_ramp_distance_m, least_ramp_time_s, rated_ramp
from choreo.problem.records import Hold, MoverProblem, Ramp, Wait
from choreo.proof.needs import ramp_distance_m, ramp_time_s, ramp_words, rated_shape
from choreo.proof.relaxed import Rows, lasting, station, time, total, way
from choreo.proof.speeds import phases_with_speeds, speed_before
from choreo.scenario import Span
from choreo.words.display import kmh
from choreo.words.records import dataclass

# Two numbers that differ by less than this share are the same: no proof rests on it.
SAME = 1e-9


def add_mover(rows: Rows, mover: MoverProblem) -> None:
    """Add the rows that are a mover's own."""
    name = mover.name
    starts = f"start of {name}"
    rows.add(station(name, 0), mover.start.lo, mover.start.hi, starts, "m", mover.start_origin)
    if not mover.phases:
        return
    least_s = mover.launch_latency_s
    rows.add(time(name, 0), least_s, math.inf, f"launch of {name}, at go or later", "s", None)
    for index, (speed, phase) in enumerate(phases_with_speeds(mover)):
        match phase:
            case Ramp():
                _ramp(rows, name, index, speed, phase)
            case Hold():
                _hold(rows, name, index, speed, phase)
            case Wait():
                _standing(rows, name, index, phase)
            case _:
                assert_never(phase)
    end = station(name, len(mover.phases))
    ends = f"end of the path of {name}"
    rows.add(end, -math.inf, mover.room.hi, ends, "m", mover.room_origin)
    whole = total(end, station(name, 0), -1.0)
    rows.add(whole, -math.inf, mover.stroke_m, f"stroke of {name}", "m", mover.stroke_origin)


def _standing(rows: Rows, name: str, index: int, wait: Wait) -> None:
    """No way; a first wait ends with the launch, which is boundary 0, so it takes no time either."""
    rows.define(way(name, index), 0.0, 0.0, "m")
    if wait.for_s is not None:
        what = f"{name} {wait.name} for a time"
        rows.add(lasting(name, index), wait.for_s, wait.for_s, what, "s", wait.origin)
        return
    rows.define(lasting(name, index), 0.0, 0.0 if index == 0 else math.inf, "s")


def _between(rows: Rows, name: str, index: int, low: float, high: float) -> None:
    """low * time <= way <= high * time, for speeds in m/s."""
    gone, lasts = way(name, index), lasting(name, index)
    if low == high:
        rows.define(total(gone, lasts, -low), 0.0, 0.0, "m")
        return
    rows.define(total(gone, lasts, -low), 0.0, math.inf, "m")
    if math.isfinite(high):
        rows.define(total(gone, lasts, -high), -math.inf, 0.0, "m")


def _hold(rows: Rows, name: str, index: int, speed: Span, hold: Hold) -> None:
    _between(rows, name, index, speed.lo, speed.hi)
    gone, lasts = way(name, index), lasting(name, index)
    rows.define(lasts, 0.0, math.inf, "s")
    label, origin = f"{name} {hold.name}", hold.origin
    if hold.for_s is not None:
        rows.add(lasts, hold.for_s, hold.for_s, f"{label} for a time", "s", origin)
    if hold.for_m is not None:
        rows.add(gone, hold.for_m, hold.for_m, f"{label} for a way", "m", origin)
    if hold.settle_s > 0 and hold.settled_by is None:
        rows.add(lasts, hold.settle_s, math.inf, f"{name} settles", "s", origin)


def _ramp(rows: Rows, name: str, index: int, speed: Span, ramp: Ramp) -> None:
    slow, fast = min(speed.lo, ramp.to.lo), max(speed.hi, ramp.to.hi)
    _between(rows, name, index, slow, fast)
    gone, lasts, origin = way(name, index), lasting(name, index), ramp.origin
    rows.define(lasts, 0.0, math.inf, "s")
    label = f"{name} {ramp_words(speed, ramp)}"
    least_m, least_s = ramp_distance_m(speed, ramp), ramp_time_s(speed, ramp)
    least = least_of_ramp(speed, ramp)
    exact = ramp.rated and speed.fixed and ramp.to.fixed
    if least is not None and not exact:
        # Of a length or a time that is given only these say when no ramp has it.
        least_m, least_s = max(least_m, least.way_m), max(least_s, least.time_s)
    rows.add(gone, least_m, least_m if exact else math.inf, label, "m", origin)
    rows.add(lasts, least_s, least_s if exact else math.inf, label, "s", origin)
    if ramp.within_m is not None:
        rows.add(gone, -math.inf, ramp.within_m, f"{label}: within", "m", origin)
    if ramp.ends_at_m is not None:
        rest, at = station(name, index + 1), ramp.ends_at_m
        rows.add(rest, at, at, f"{name} at rest", "m", origin)
    if ramp.over_m is not None:
        rows.add(gone, ramp.over_m, ramp.over_m, f"{label}: over", "m", origin)
    if ramp.lasting_s is not None:
        rows.add(lasts, ramp.lasting_s, ramp.lasting_s, f"{label}: lasting", "s", origin)
    if ramp.least_mps2 is not None and speed.fixed and ramp.to.fixed:
        slowest = rated_shape(speed, replace(ramp, table=((0.0, ramp.least_mps2),)))
        rows.add(lasts, 0.0, slowest.duration_s, f"{label}: least rate", "s", origin)
    if least is not None and not exact:
        behind = f"{label}: way lost against the higher speed"
        if math.isfinite(fast):
            rows.add(total(gone, lasts, -fast), -math.inf, -least.lost_m, behind, "m", origin)
        if slow > 0:  # from rest that is the ramp's least way, which stands above
            ahead = f"{label}: way gained on the lower speed"
            rows.add(total(gone, lasts, -slow), least.gained_m, math.inf, ahead, "m", origin)


@dataclass(frozen=True, slots=True)
class LeastOfRamp:
    """What no ramp between two speeds is below: its time (s), its way, and way lost and gained (m)."""

    time_s: float
    way_m: float
    lost_m: float
    gained_m: float


def least_of_ramp(speed: Span, ramp: Ramp) -> LeastOfRamp | None:
    """Bounds of a ramp of which speeds may be open: lost on the highest and gained on the lowest; None both ways.

    It goes through all speeds between the nearest ends of both ranges, without being at rest from acceleration there.
    From or to a given speed the jerk counts too: a ramp that goes farther, made smaller until it ends at the nearer
    end, keeps to the same limits, takes as long, and neither loses nor gains more. Its way is shorter only where the
    given speed is the lower one.
    """
    if speed.hi <= ramp.to.lo:
        ends = speed.hi, ramp.to.lo
    elif ramp.to.hi <= speed.lo:
        ends = speed.lo, ramp.to.hi
    else:
        return None
    if speed.fixed and ramp.to.fixed:
        bounds = [(ramp.table, ramp.jerk_mps3)]
    else:
        bounds = [(ramp.table, math.inf)]
        if speed.fixed or ramp.to.fixed:
            bounds.append((((0.0, max(rate for _, rate in ramp.table)),), ramp.jerk_mps3))
    from_below = speed.fixed if speed.hi <= ramp.to.lo else ramp.to.fixed
    made = [least_lost_m(*ends, *one) for one in bounds]
    return LeastOfRamp(
        max(least_ramp_time_s(*ends, *one) for one in bounds),
        max(least_ramp_distance_m(*ends, *one) for one in (bounds if from_below else bounds[:1])),
        max(lost for lost, _ in made),
        max(gained for _, gained in made),
    )


def add_past_curve(rows: Rows, mover: MoverProblem, index: int, end_m: float) -> None:
    """Add that a hold up to a known station begins after the last place too tight for its speed.

    And after the way that it takes to gain the rest of the speed from there. index: of the hold; end_m: its end.
    """
    speed_mps = speed_before(mover, index).lo
    begins = [
        point.station_m + _way_from(mover, index, point.proven_per_m, speed_mps)
        for point in mover.curve
        if point.stretch >= 0
        and point.station_m < end_m
        and speed_mps**2 * point.proven_per_m > mover.lateral_mps2 * (1 + SAME)
    ]
    if begins:
        what = f"{mover.name} past the curve that is too tight for its speed, and at speed"
        here = station(mover.name, index)
        rows.add(here, max(begins), math.inf, what, "m", mover.lateral_origin)


def add_past_bank(rows: Rows, mover: MoverProblem, index: int, end_m: float) -> None:
    """Add that a hold up to a known station begins after the last place of a bank down which it slides at its speed.

    index: of the hold; end_m: its end.
    """
    speed_mps = speed_before(mover, index).hi
    slides = [
        steep
        for steep in mover.steeps
        if steep.from_m < end_m and speed_mps < min(steep.least_mps) * (1 - SAME)
    ]
    if slides:
        least, neutral = kmh(slides[-1].least_mps[0]), kmh(slides[-1].neutral_mps)
        what = f"{mover.name} past the bank down which it slides below {least} (neutral: {neutral})"
        begins = min(slides[-1].to_m, end_m)
        rows.add(station(mover.name, index), begins, math.inf, what, "m", mover.lateral_origin)


def _way_from(mover: MoverProblem, index: int, curvature_per_m: float, speed_mps: float) -> float:
    """Least way in m from the speed that a curvature allows up to another; acceleration may be there at once."""
    rises = [
        phase for phase in mover.phases[:index] if isinstance(phase, Ramp) and phase.direction > 0
    ]
    if not rises or any(rise.table != rises[0].table for rise in rises):
        return 0.0
    allowed = math.sqrt(mover.lateral_mps2 / curvature_per_m) * (1 + SAME)
    if allowed >= speed_mps:
        return 0.0
    least_m = least_ramp_distance_m(allowed, speed_mps, rises[0].table, math.inf)
    if len(rises[0].table) == 1:
        rate, release = rises[0].table[0][1], rises[0].jerk_mps3
        ramp = rated_ramp(allowed, speed_mps, rate, release_jerk_mps3=release)
        least_m = max(least_m, ramp.distance_m)
    return least_m
