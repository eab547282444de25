"""Start marks that a plan chose where hardly anybody wants them: in a bend, in a lane that another one drives."""

from __future__ import annotations

import math
from collections.abc import Iterator

from choreo.case.at_speed import events_of
from choreo.case.record import Case
from choreo.geometry import Path
from choreo.problem.records import MoverProblem, PassAt, Problem
from choreo.solve import Solved
from choreo.words import Finding
from choreo.words.display import metres

# Who starts no farther (m) behind the beginning of a bend starts at it.
AT_ITS_BEGINNING_M = 0.01
# A curve of a larger radius (its inverse in 1/m) is as good as straight for a start.
STRAIGHT_PER_M = 1.0 / 500.0


def start_findings(case: Case, staged: Solved) -> Iterator[Finding]:
    """Warn of starts from rest that were left open and lie in a bend behind a straight, or in another's lane."""
    problem, reading = staged.staging.problem, staged.solution.reading
    free = [one for one in problem.movers if one.phases and not one.start.fixed and not one.rolls]
    starts = {one.name: reading.movers[one.name].start_m for one in free}
    for mover in free:
        start_m, path = starts[mover.name], case.paths[mover.name]
        if not _in_bend(problem, mover, path, start_m):
            continue
        piece = _piece_at(mover, start_m)
        values = {
            "mover": mover.name,
            "station": metres(start_m),
            "piece": piece or "PIECE",
            "named": "" if piece else " (give the bend a `name`)",
        }
        yield Finding("plan.starts-in-bend", "warning", mover.origin, values)
    for encounter in problem.encounters:
        if isinstance(encounter, PassAt) and encounter.first in starts:
            first, second = encounter.first, encounter.second
            if _in_lane(case, first, starts[first], second):
                values = {"mover": first, "other": second, "encounter": encounter.name}
                yield Finding("plan.starts-in-lane", "warning", encounter.origin, values)


def _in_bend(problem: Problem, mover: MoverProblem, path: Path, start_m: float) -> bool:
    """Whether a start lies in a curve, or in a piece with curves that an event names, and a straight leads there."""
    named = {event.name for event in events_of(problem) if event.mover == mover.name}
    inside = [
        (low, high)
        for name, low, high in mover.marks
        if name in named and _in(start_m, low, high) and _bends(path, low, high)
    ]
    around = (start_m - AT_ITS_BEGINNING_M, start_m + AT_ITS_BEGINNING_M)
    bent = all(abs(path.pose_at(one)[3]) > STRAIGHT_PER_M for one in around)
    straight = any(
        begin < start_m and max(abs(first), abs(last)) <= STRAIGHT_PER_M
        for begin, _, first, last in path.stretches()
    )
    return straight and (bent or bool(inside))


def _bends(path: Path, low_m: float, high_m: float) -> bool:
    return any(
        begin < high_m and end > low_m and max(abs(first), abs(last)) > STRAIGHT_PER_M
        for begin, end, first, last in path.stretches()
    )


def _piece_at(mover: MoverProblem, start_m: float) -> str | None:
    return next((name for name, low, high in mover.marks if _in(start_m, low, high)), None)


def _in(station_m: float, low_m: float, high_m: float) -> bool:
    return low_m + AT_ITS_BEGINNING_M < station_m < high_m - AT_ITS_BEGINNING_M


def _in_lane(case: Case, name: str, start_m: float, other: str) -> bool:
    """Whether the middle of a body at a start is over the lane that another's body sweeps."""
    path = case.paths[other]
    x_m, y_m = case.paths[name].pose_at(start_m)[:2]
    beside_x, beside_y = path.pose_at(path.nearest(x_m, y_m))[:2]
    return math.hypot(x_m - beside_x, y_m - beside_y) < case.scenario.movers[other].body.width_m / 2
