"""Gaps and passes asked for a little less exactly: numbers that people write are rounded."""

from __future__ import annotations

from dataclasses import replace

from choreo.case.record import Case
from choreo.problem import Staging
from choreo.problem.records import Encounter, GapAt, PassAt
from choreo.scenario import Span
from choreo.verification.encounters import tolerance_of

# What share of an encounter's tolerance a plan may miss it by; the simulation lets pass a tenth.
SHARE_OF_TOLERANCE = 0.09


def eased(case: Case, staging: Staging) -> Staging:
    """Give the staging with its gaps and passes in ranges that are wider by a small share of their tolerance."""

    def wider(encounter: Encounter) -> Encounter:
        if not isinstance(encounter, (GapAt, PassAt)):
            return encounter
        if isinstance(encounter, GapAt) and encounter.until is not None:
            return encounter
        room = SHARE_OF_TOLERANCE * tolerance_of(case.scenario.encounters[encounter.name])
        wanted = Span(encounter.wanted.lo - room, encounter.wanted.hi + room)
        return replace(encounter, wanted=wanted)

    problem = staging.problem
    encounters = tuple(wider(one) for one in problem.encounters)
    return replace(staging, problem=replace(problem, encounters=encounters))
