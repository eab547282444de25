"""Encounters asked for a little less exactly: numbers that people write are rounded."""

from __future__ import annotations

from dataclasses import replace
from typing import assert_never

from choreo.case.record import Case
from choreo.problem import Staging
from choreo.problem.records import (
    ContactPoint,
    ContactTrack,
    Encounter,
    GapAt,
    PassAt,
)
from choreo.scenario import Span
from choreo.verification.encounters import tolerance_of

# What share of an encounter's tolerance a plan may miss it by; the simulation lets pass a tenth.
SHARE_OF_TOLERANCE = 0.09
# Start marks are written to so much (m) at best: a plan from one that is no farther off is a plan from it.
MARK_M = 1e-6


def eased(case: Case, staging: Staging, share: float = SHARE_OF_TOLERANCE) -> Staging:
    """Give the staging with its encounters in ranges that are wider by a small share of their tolerance.

    Start marks that are given may be off by their last digit. share: of the tolerance; 0: nothing but that digit.
    A contact at one place leaves the mover that is met a little room along its path: the place of the impact moves.
    """

    def wider(encounter: Encounter) -> Encounter:
        asked = case.scenario.encounters[encounter.name]
        room = share * tolerance_of(asked)
        match encounter:
            case ContactPoint():
                if encounter.a == asked.with_:
                    return replace(encounter, loose_a_m=room)
                return replace(encounter, loose_b_m=room)
            case GapAt() | PassAt():
                if isinstance(encounter, GapAt) and encounter.until is not None:
                    return encounter
                wanted = Span(encounter.wanted.lo - room, encounter.wanted.hi + room)
                return replace(encounter, wanted=wanted)
            case ContactTrack():
                return encounter
            case _:
                assert_never(encounter)

    problem = staging.problem
    encounters = tuple(wider(one) for one in problem.encounters)
    movers = tuple(
        replace(one, start=_widened(one.start)) if one.phases else one for one in problem.movers
    )
    return replace(staging, problem=replace(problem, movers=movers, encounters=encounters))


def _widened(start: Span) -> Span:
    """Start stations that are as good as the given ones; paths begin at 0."""
    low = start.lo - MARK_M
    return Span(max(low, 0.0) if start.lo >= 0.0 else low, start.hi + MARK_M)
