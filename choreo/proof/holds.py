"""Budgets of a hold whose place on the path is known: fast enough by there, and not too fast for the bends there.

A hold that is settled by one place and lasts until another is driven at its speed on all the way between them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import assert_never

from choreo.plans.record import Budget, BudgetLine
from choreo.problem.records import Hold, MoverProblem, Ramp, Wait
from choreo.proof.lines import added, lacking, need, ramp_line, where
from choreo.proof.speeds import phases_with_speeds, speed_before
from choreo.scenario import Event
from choreo.words.display import kmh, metres, short_kmh


def mark_budgets(mover: MoverProblem) -> Iterator[Budget]:
    """Give the budgets of holds that named pieces of the path bound, fitting or not."""
    for index, phase in enumerate(mover.phases):
        if not isinstance(phase, Hold):
            continue
        settled_m = None if phase.settled_by is None else mover.mark_station(phase.settled_by)
        if phase.settled_by is not None and settled_m is not None and phase.settle_s > 0:
            yield _run_up(mover, index, settled_m, mark_label(phase.settled_by))


def _run_up(mover: MoverProblem, index: int, settled_m: float, label: str) -> Budget:
    """From the earliest start to where it must be settled."""
    pieces = []
    for speed, phase in phases_with_speeds(mover)[:index]:
        match phase:
            case Ramp():
                pieces.append(ramp_line(speed, phase))
            case Hold():
                least = max(phase.for_m or 0.0, (phase.for_s or 0.0) * speed.lo)
                pieces.append(need("hold", least, phase))
            case Wait():
                pass  # takes no way
            case _:
                assert_never(phase)
    hold, speed = mover.hold(index), speed_before(mover, index)
    at = f" at {short_kmh(speed.lo)}" if speed.fixed else ""
    pieces.append(need(f"settle {hold.settle_s:g} s{at}", hold.settle_s * speed.lo, hold))
    start_m = mover.start.lo
    words, way_m = f"from its start to {label}", settled_m - start_m
    room = BudgetLine(words, way_m, where(mover.start_origin))
    title = f"{mover.name} can't be at speed and settled by {label}"
    return lacking(added(title, mover, "m", room, pieces), before_m=start_m)


def bends(mover: MoverProblem, index: int, ends_m: float, label: str) -> Iterator[Budget]:
    """Give the budget of the tightest place that a hold surely drives over, until it ends at a station.

    index: of the hold. label: what is at its end.
    """
    if math.isinf(mover.lateral_mps2):
        return
    begins_m = begins_by(mover, index, ends_m)
    looks = [(_least_curvature_at(mover, at), at) for at in {begins_m, ends_m}]
    looks += [
        (point.proven_per_m, point.station_m)
        for point in mover.curve
        if point.stretch >= 0 and begins_m < point.station_m < ends_m
    ]
    yield from too_fast(mover, index, max(looks), (begins_m, ends_m), label)


def too_fast(
    mover: MoverProblem,
    index: int,
    bend: tuple[float, float],
    stretch_m: tuple[float, float],
    label: str,
) -> Iterator[Budget]:
    """Give the budget of a hold on a bend: its curvature (1/m) and station; on a stretch whose end has a label."""
    (curvature, station_m), (begins_m, ends_m) = bend, stretch_m
    if curvature <= 0:
        return
    available = BudgetLine(
        "lateral acceleration it can hold", mover.lateral_mps2, where(mover.lateral_origin)
    )
    speed = speed_before(mover, index + 1)
    most = kmh(math.sqrt(mover.lateral_mps2 / curvature))
    at = "" if station_m == ends_m else f" at station {metres(station_m)}"
    words = f"{short_kmh(speed.lo)} on a radius of {1 / curvature:.2f} m{at} (at most {most})"
    place = "at" if begins_m == ends_m else "before"
    title = f"{mover.name} is too fast for its path {place} {label}"
    needs = [need(words, speed.lo**2 * curvature, mover.phases[index])]
    yield added(title, mover, "m/s2", available, needs)


def begins_by(mover: MoverProblem, index: int, ends_m: float) -> float:
    """Give the station by which a hold that ends at another has surely begun."""
    hold, speed = mover.hold(index), speed_before(mover, index)
    settled_m: float | None = ends_m
    if hold.settled_by not in (None, hold.until) and hold.settled_by is not None:
        settled_m = mover.mark_station(hold.settled_by)
    lasts_m = max(hold.for_m or 0.0, (hold.for_s or 0.0) * speed.lo)
    if settled_m is None or hold.settle_s == 0:
        return ends_m - lasts_m
    return min(ends_m - lasts_m, settled_m - hold.settle_s * speed.lo)


def mark_label(event: Event) -> str:
    """Give an edge of a named piece in words."""
    edge = "start" if event.kind == "mark start" else "end"
    return f"the {edge} of {event.name}"


def _least_curvature_at(mover: MoverProblem, station_m: float) -> float:
    """Curvature at a station, the smaller one where two stretches meet; 0 where none is known."""
    found = []
    for left, right in zip(mover.curve, mover.curve[1:], strict=False):
        # Thinned points carry a tighter curvature than the path has: no proof.
        same = left.stretch == right.stretch >= 0 and left.station_m < right.station_m
        if same and left.station_m <= station_m <= right.station_m:
            share = (station_m - left.station_m) / (right.station_m - left.station_m)
            rise = right.curvature_per_m - left.curvature_per_m
            linear = left.curvature_per_m + share * rise
            found.append(linear if left.least_per_m is None else left.least_per_m)
    return min(found, default=0.0)
