"""The way back to the start mark after a run, and how long it takes."""

from __future__ import annotations

from collections.abc import Mapping

from choreo.geometry import Path, lap_of
from choreo.motion.ramp import RampShape, rated_ramp, table_value_mps2
from choreo.plans.crew_record import WayBack
from choreo.plans.record import MoverPlan
from choreo.scenario import Mover

# Bisections until a speed is exact to the last bit.
HALVINGS = 60


def way_back(mover: Mover, planned: MoverPlan, named: Mapping[str, Path]) -> WayBack | None:
    """Give the way back of a mover, from rest to rest; None where its programme has none.

    named: paths by their own names. Its own path is driven back from where it comes to rest to its start mark, a
    named one from end to end, of a closed one one lap.
    """
    back = mover.back
    if back is None:
        return None
    if back.distance_m is not None:
        way_m = back.distance_m
    elif back.path is not None:
        path = named[back.path]
        way_m = lap_of(path) or path.length_m
    else:
        way_m = planned.runway.total_m
    return WayBack(
        way_m,
        _time_s(mover, way_m, back.speed_mps),
        back.speed_mps,
        back.path,
        back.distance_m is not None,
    )


def _time_s(mover: Mover, way_m: float, speed_mps: float) -> float:
    """From rest to rest over a way; where it is too short for the speed, at the most that leads to rest in time."""
    ramps = _ramps(mover, speed_mps)
    if _way_m(ramps) > way_m:
        low, high = 0.0, speed_mps
        for _ in range(HALVINGS):
            middle = (low + high) / 2
            low, high = (low, middle) if _way_m(_ramps(mover, middle)) > way_m else (middle, high)
        speed_mps, ramps = high, _ramps(mover, high)
    steady_m = max(way_m - _way_m(ramps), 0.0)
    return sum(ramp.duration_s for ramp in ramps) + (steady_m / speed_mps if steady_m else 0.0)


def _way_m(ramps: tuple[RampShape, RampShape]) -> float:
    return sum(ramp.distance_m for ramp in ramps)


def _ramps(mover: Mover, speed_mps: float) -> tuple[RampShape, RampShape]:
    """Up and down at usual rates, else at limits: of a table the least that it has up to that speed."""
    limits, usual = mover.limits, mover.usual
    table = limits.accelerate
    speeds = (0.0, speed_mps, *(at for at, _ in table if at < speed_mps))
    up = min(table_value_mps2(table, at) for at in speeds)
    down = limits.brake_mps2
    if usual is not None:
        up = min(up, usual.accelerate_mps2 or up)
        down = min(down, usual.brake_mps2 or down)
    jerks = {"build_up_jerk_mps3": limits.jerk_mps3, "release_jerk_mps3": limits.jerk_mps3}
    return rated_ramp(0.0, speed_mps, up, **jerks), rated_ramp(speed_mps, 0.0, down, **jerks)
