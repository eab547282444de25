"""From where to where a mover may start so that there still is a plan: the least and the most of its start station."""

from __future__ import annotations

from collections.abc import Mapping

from choreo.linear.cornering import cornering
from choreo.linear.lanes import Ends, Lanes
from choreo.linear.records import NotLinear
from choreo.linear.rows import equal
from choreo.linear.search import MOST_SOLVED, LinearSolver, Search
from choreo.linear.sliding import sliding
from choreo.linear.stage import tracks_of
from choreo.linear.writing import model_of
from choreo.problem.build import Staging

# An end of the range is known to this (m).
KNOWN_M = 1e-5


def start_range(
    staging: Staging,
    ends: Mapping[str, Ends],
    solve: LinearSolver,
    mover: str,
    *,
    at: Mapping[str, float],
    freed: frozenset[tuple[str, int]],
) -> tuple[float, float] | None:
    """Give the least and the most start station (m) of a mover of which the linear stage has a plan.

    ends: of the bodies, by mover. at: stations (m) at which other movers start. freed: ramps (mover, phase) that may be
    gentler than their limit. Between the two not every station need have a plan, beyond them none has; room that
    movers of one lane keep is not asked for. Returns None where there is no plan. Raises NotLinear: a speed or a shape
    is left to choose, or the search is too long.
    """
    model = model_of(staging.problem, tracks_of(staging), freed)
    for name, course in model.courses.items():
        path = staging.paths[name]
        model.choices += [*cornering(course, path), *sliding(course)]
    Lanes(model, staging.paths, ends).in_order(0.0)
    for name, station_m in at.items():
        model.rows.append(equal(model.courses[name].start, station_m, "", "m"))
    start = model.courses[mover].start
    found = []
    for sign in (1.0, -1.0):
        search = Search(model, start.times(sign), solve, KNOWN_M, MOST_SOLVED, nearest=True)
        end = search.run()
        if not end.complete or search.dropped:
            raise NotLinear
        if end.values is None:
            return None
        found.append(start.at(end.values))
    return found[0] - KNOWN_M, found[1] + KNOWN_M
