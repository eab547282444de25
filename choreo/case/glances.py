"""Could a case be planned? Asked of the linear stage alone, in milliseconds, without solver and simulation."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from itertools import islice, product

from choreo.case.record import Case
from choreo.linear import (
    MOST_SOLVED,
    Decision,
    Ends,
    NotLinear,
    chosen,
    decide,
    miss_of,
    start_range,
    unstated,
)
from choreo.problem import Staging
from choreo.problem.records import Ramp
from choreo.solve import solve_linear
from choreo.words.records import dataclass

# With more combinations of places to look at than this there is no proof.
MOST_PLACES = 32
# Misses, places and speeds (m, s, m/s) that differ by less are the same.
SAME = 1e-6


@dataclass(frozen=True, slots=True)
class Glance:
    """What the linear stage says of a case.

    works: whether it has a plan; None where it can't say. miss: by how much its worst row is missed (m or s), 0 where
    it works. solved, asked: linear problems that it took, and values of curves between lanes. trace: where and how fast
    they collide, where that is what fails (m, m/s).
    """

    works: bool | None
    miss: float = 0.0
    solved: int = 0
    asked: int = 0
    trace: tuple[float, ...] = ()

    def alike(self, other: Glance) -> bool:
        """Whether both fail by the same."""
        if self.works is not False or other.works is not False:
            return False
        one, two = (self.miss, *self.trace), (other.miss, *other.trace)
        return len(one) == len(two) and all(
            math.isclose(a, b, rel_tol=SAME, abs_tol=SAME) for a, b in zip(one, two, strict=True)
        )


def with_room(asking: Callable[..., Decision | None], case: Case) -> Decision | None:
    """Ask with the clearance that movers of one lane keep at their starts, then without where that leaves no plan.

    asking: `decide`, all given but its room_m.
    """
    decision = asking(room_m=case.scenario.safety.clearance_m)
    if decision is not None and decision.reading is None and decision.spaced:
        decision = asking(room_m=0.0)
    return decision


def glance(case: Case, most: int = MOST_SOLVED) -> Glance:
    """Ask the linear stage whether a case has a plan: ramps that nobody states gentler, else every one at its limit.

    most: linear problems that one search may take; with more to do it can't say. Raises ChoreoError: what the case's
    staging raises.
    """
    problem = case.staging.problem
    asked_for, freed = chosen(problem), unstated(problem)
    found = _with_open(case, asked_for | freed, most)
    if found.works is None and freed:
        # Of ramps at their limit a plan tells, that there is none doesn't.
        other = _with_open(case, asked_for, most)
        solved, asked = found.solved + other.solved, found.asked + other.asked
        return Glance(other.works or None, solved=solved, asked=asked)
    # A ramp within a length may also be driven harder than that asks for.
    harder = any(
        isinstance(phase, Ramp) and phase.within_m is not None and not phase.rated
        for mover in problem.movers
        for phase in mover.phases
    )
    unsure = harder or combinations_of(case.staging) > MOST_PLACES
    return replace(found, works=None) if unsure and found.works is False else found


def _with_open(case: Case, ramps: frozenset[tuple[str, int]], most: int) -> Glance:
    """Look at every combination of places, with these ramps as gentle as one likes."""
    misses = []
    solved = asked = 0
    for staging in places(case.staging):
        decision = _decision(case, staging, ramps, most)
        solved += 0 if decision is None else decision.solved
        asked += 0 if decision is None else decision.asked
        if decision is not None and decision.reading is not None:
            return Glance(True, solved=solved, asked=asked)
        if decision is None or decision.conflict is None:
            return Glance(None, solved=solved, asked=asked)
        misses.append(miss_of(decision.conflict, solve_linear))
    return Glance(False, min(misses), solved, asked)


def _decision(
    case: Case, staging: Staging, freed: frozenset[tuple[str, int]], most: int
) -> Decision | None:
    return decide(staging, ends_of(case), solve_linear, freed=freed, most=most)


def ends_of(case: Case) -> dict[str, Ends]:
    """How far each body reaches before and behind its reference point."""
    movers = case.scenario.movers.items()
    return {name: Ends(one.body.front_m, one.body.rear_m) for name, one in movers}


def combinations_of(staging: Staging) -> int:
    """How many combinations of places there are where the encounters can happen."""
    return math.prod(len(meeting.candidates) for meeting in staging.meetings.values())


def single_place(case: Case) -> bool:
    """Whether encounters and obstacles have no choice of places: what is known of this one is known of all."""
    return combinations_of(case.staging) == 1 and not case.scenario.sights


def places(staging: Staging) -> Iterator[Staging]:
    """Combinations of places where the encounters can happen, as many as are looked at."""
    choices = [range(len(meeting.candidates)) for meeting in staging.meetings.values()]
    for combination in islice(product(*choices), MOST_PLACES):
        yield staging.at_places(dict(zip(staging.meetings, combination, strict=True)))


def may_work(case: Case, *, gentler: bool) -> bool:
    """Whether the linear stage has a plan, or can't say. gentler: ramps that nobody states may be.

    Raises ChoreoError: what the case's staging raises.
    """
    problem = case.staging.problem
    freed = chosen(problem) | (unstated(problem) if gentler else frozenset())
    for staging in places(case.staging):
        decision = _decision(case, staging, freed, MOST_SOLVED)
        if decision is None or decision.reading is not None or decision.conflict is None:
            return True
    return combinations_of(case.staging) > MOST_PLACES


def start_range_of(
    case: Case, mover: str, at: Mapping[str, float], *, gentler: bool
) -> tuple[float, float] | None:
    """Give the least and the most start station (m) of a mover, None where there is no plan.

    at: stations (m) at which other movers start. gentler: ramps that nobody states may be. Beyond the two there is no
    plan, between them not every station need have one. Raises NotLinear: it can't be said. ChoreoError: as the case's
    staging.
    """
    problem = case.staging.problem
    if combinations_of(case.staging) > MOST_PLACES:
        raise NotLinear
    freed = chosen(problem) | (unstated(problem) if gentler else frozenset())
    ends = ends_of(case)
    found = [
        start_range(staging, ends, solve_linear, mover, at=at, freed=freed)
        for staging in places(case.staging)
    ]
    ranges = [one for one in found if one is not None]
    if not ranges:
        return None
    return min(low for low, _ in ranges), max(high for _, high in ranges)
