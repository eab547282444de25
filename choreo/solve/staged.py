"""Solve a staging: follow curved relations with their tangents, and try other meeting places."""

from __future__ import annotations

from dataclasses import dataclass, replace

from choreo.problem.build import Staging
from choreo.problem.records import ContactTrack, GapAt
from choreo.solve.between import touches_early
from choreo.solve.solver import Solution, Solver
from choreo.solve.tolerances import TANGENT_SETTLED_M
from choreo.solve.unknowns import Form

MOST_TANGENTS = 12
MOST_ALTERNATIVES = 4


@dataclass(frozen=True)
class Staged:
    """A solution with the staging it belongs to and the solver that can be used again."""

    staging: Staging
    solution: Solution
    solver: Solver


def solve_staging(
    staging: Staging, solver: Solver | None = None, *, explain: bool = True
) -> Staged:
    """Solve; where an encounter can happen at several places, the first that works is taken.

    solver: one of the same structure, to save building it. explain: look for the nearest miss on failure.
    """
    first = _follow(staging, _fitting(staging, solver), explain=explain)
    if first.solution.solved and touches_early(first.staging.problem, first.solution.reading):
        first = _in_form(staging, first, Form(apart=True), "kept apart before the contact")
    if first.solution.solved:
        return first
    attempts = list(first.solution.tried)
    for other in staging.alternatives()[:MOST_ALTERNATIVES]:
        attempt = _follow(other, _fitting(other, first.solver), explain=False)
        attempts += [f"at another meeting place: {line}" for line in attempt.solution.tried]
        if attempt.solution.solved:
            return attempt
    if explain:
        last = _in_form(staging, first, Form(mirrored=False), "with ramps of any shape")
        early = touches_early(last.staging.problem, last.solution.reading)
        if last.solution.solved and not early:
            return last
        attempts += last.solution.tried[len(first.solution.tried) :]
    return replace(first, solution=replace(first.solution, tried=tuple(attempts)))


def _in_form(staging: Staging, first: Staged, form: Form, words: str) -> Staged:
    """Solve again with another programme for the same structure."""
    again = _follow(staging, Solver(staging.problem, form), explain=form.apart)
    tried = (
        *first.solution.tried,
        *(f"{words}: {line}" for line in again.solution.tried),
    )
    return replace(again, solution=replace(again.solution, tried=tried))


def _fitting(staging: Staging, solver: Solver | None) -> Solver:
    if solver is not None and solver.form == Form() and solver.fits(staging.problem):
        return solver
    return Solver(staging.problem)


def _follow(staging: Staging, solver: Solver, *, explain: bool) -> Staged:
    """Newton's way along curved relations: solve, lay the tangent at the solution, solve again."""
    solution = solver.solve(staging.problem, explain=explain)
    for _ in range(MOST_TANGENTS):
        stations = _tangent_stations(staging, solution)
        if not stations or _settled(staging, stations):
            break
        staging = staging.relaid_at(stations)
        near = solution if solution.solved else None
        solution = solver.solve(staging.problem, near=near, explain=explain)
    return Staged(staging, solution, solver)


def _tangent_stations(staging: Staging, solution: Solution) -> dict[str, float]:
    """Stations of b at which the curved relations were met."""
    stations = {}
    for name, meeting in staging.meetings.items():
        if meeting.tracks[staging.chosen[name]] is not None:
            stations[name] = solution.reading.moments[name].station_b_m
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
        if isinstance(encounter, ContactTrack):
            tangent = encounter.a0_m + encounter.slope * (station_b - encounter.b0_m)
        elif isinstance(encounter, GapAt):
            tangent = encounter.facing0_m + encounter.slope * (station_b - encounter.b0_m)
        else:
            continue
        if abs(float(track.at(station_b)[0]) - tangent) > TANGENT_SETTLED_M:
            return False
    return True
