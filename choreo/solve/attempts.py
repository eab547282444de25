"""Solve a staging: follow curved relations by successive tangents (Newton), and try other meeting places."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import assert_never

import numpy as np

from choreo.problem.build import Staging
from choreo.problem.records import ContactPoint, ContactTrack, GapAt, PassAt, Problem
from choreo.solve.cache import Solvers
from choreo.solve.formulation import Form
from choreo.solve.ramp_tables import has_tables
from choreo.solve.reading import Reading
from choreo.solve.solver import Effort, Solution, Solver
from choreo.solve.tolerances import APART_M, TANGENT_SETTLED_M
from choreo.words.records import dataclass

# Successive tangents settle quadratically: bundled scenarios take one or two. What has not settled after so many goes
# back and forth.
MOST_TANGENTS = 12
# Other places that are tried, each with every form: the nearest ones come first, and each costs a whole solve.
MOST_ALTERNATIVES = 4
# Fractions of the speed change at which a ramp may pause: near its start, near its end.
PAUSES = (0.0002, 0.9998)
# Pieces of a ramp under a table when the usual ones come out a few millimetres long.
FINE_PIECES = 48


@dataclass(frozen=True)
class Solved:
    """A solution with the staging it belongs to."""

    staging: Staging
    solution: Solution

    @classmethod
    def reading_of(cls, staging: Staging, reading: Reading) -> Solved:
        """Give a plan that was found in plain numbers, without the solver's unknowns."""
        return cls(staging, Solution(True, reading, np.zeros(0)))


def solve_staging(
    staging: Staging,
    solvers: Solvers,
    *,
    near: Solution | None = None,
    effort: Effort | None = None,
    at_limits: bool = False,
) -> Solved:
    """Solve in the usual form, where every encounter is at its first place.

    solvers: those built so far. near: a neighbour's solution to start from. effort: starts, and whether to find the
    nearest miss. at_limits: ramps whose rate nobody states are driven at their limit.
    """
    solver = solvers.of(staging.problem, Form(at_limits=at_limits))
    return _follow(staging, solver, effort or Effort(), near)


def other_attempts(
    first: Solved,
    solvers: Solvers,
    *,
    quick: bool = False,
    report: Callable[[str], None] = lambda _step: None,
) -> Iterator[Solved]:
    """Give solved stagings of other forms and places, one at a time, each only computed when asked for.

    For when the first was not solved, or the simulation did not agree with it: kept apart in one lane, at the other
    places where the encounters can happen, with flat rates in place of tables, with ramps that pause. quick: the linear
    stage has no plan though it keeps movers apart and follows tables, so the forms that only do that in other words,
    which cost most, are left out. report: called with a word for each.
    """
    staging = first.staging
    places = [staging, *staging.alternatives()[:MOST_ALTERNATIVES]]
    tries = [(place, Form()) for place in places[1:]]
    tries += [(place, form) for form in _forms(staging.problem, quick=quick) for place in places]
    for number, (place, form) in enumerate(tries, 1):
        report(f"other ways, {number} of {len(tries)}")
        # With the keep-apart rows IPOPT often needs the elastic solution as its start.
        effort = Effort(explain=form.apart_m > 0, starts=2)
        attempt = _follow(place, solvers.of(place.problem, form), effort)
        if attempt.solution.solved:
            yield attempt


def _forms(problem: Problem, *, quick: bool) -> Iterator[Form]:
    """The other forms, in the order in which they are tried."""
    if not quick and any(isinstance(e, (ContactTrack, GapAt)) for e in problem.encounters):
        yield from (Form(apart_m=room) for room in APART_M)
    if has_tables(problem):
        yield Form(table_pieces=FINE_PIECES)
        if not quick:
            yield Form(flat=True)
    if _triggered(problem):
        yield from (Form(pause_share=share) for share in PAUSES)


def _triggered(problem: Problem) -> bool:
    """Say whether any mover is launched by a trigger."""
    return any(mover.launch_trigger is not None for mover in problem.movers)


def _follow(
    staging: Staging, solver: Solver, effort: Effort, near: Solution | None = None
) -> Solved:
    """Successive tangents, as Newton's method: solve, lay each tangent at the solution, solve again."""
    if near is not None and len(near.x) != solver.unknown_count:
        near = None
    solution = solver.solve(staging.problem, near=near, effort=effort)
    for _ in range(MOST_TANGENTS):
        stations = _tangent_stations(staging, solution)
        if not stations or _settled(staging, stations):
            break
        staging = staging.relaid_at(stations)
        near = solution if solution.solved else None
        solution = solver.solve(staging.problem, near=near, effort=effort)
    return Solved(staging, solution)


def _tangent_stations(staging: Staging, solution: Solution) -> dict[str, float]:
    """Stations of b at which the curved relations were met, by name of encounter or trigger."""
    reading, stations = solution.reading, {}
    for name, meeting in staging.meetings.items():
        if meeting.tracks[staging.chosen[name]] is not None:
            stations[name] = reading.moments[name].station_b_m
    for name in staging.gaps:
        gap = staging.problem.trigger(name).gap
        if gap is not None:
            stations[name] = reading.movers[gap.b].at(reading.triggers[name].crossing_s)[0]
    return stations


def _settled(staging: Staging, stations_b_m: dict[str, float]) -> bool:
    """True when every tangent, read where the curve was met, gives the curve's own value there."""
    for encounter in staging.problem.encounters:
        if encounter.name not in stations_b_m:
            continue
        track = staging.meetings[encounter.name].tracks[staging.chosen[encounter.name]]
        station_b = stations_b_m[encounter.name]
        if track is None:
            continue
        match encounter:
            case ContactTrack() | GapAt():
                apart_m = abs(track.at(station_b)[0] - encounter.line_at(station_b))
            case ContactPoint() | PassAt():
                apart_m = 0.0  # at given stations
            case _:
                assert_never(encounter)
        if apart_m > TANGENT_SETTLED_M:
            return False
    return all(_gap_settled(staging, name, stations_b_m[name]) for name in staging.gaps)


def _gap_settled(staging: Staging, trigger: str, station_b_m: float) -> bool:
    gap = staging.problem.trigger(trigger).gap
    if gap is None:
        raise AssertionError(trigger)
    apart_m = abs(staging.gaps[trigger].at(station_b_m)[0] - gap.line_at(station_b_m))
    return apart_m <= TANGENT_SETTLED_M
