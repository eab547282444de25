"""A linear relaxation over event times and stations that contains every possible plan.

If it has no solution, no plan exists. Each row is a bound that holds for whatever shape the ramps take; where a
value is open (a free speed, an event inside a phase, a curved relation) the row is left out or widened. It proves
impossibility, never possibility. Source of the ramp bounds: motion/bounds.py.
"""

from __future__ import annotations

from typing import assert_never

from choreo.problem.records import (
    ContactPoint,
    ContactTrack,
    GapAt,
    Hold,
    PassAt,
    Problem,
    Ramp,
    Wait,
)
from choreo.proof.relaxed import RelaxedRow, Rows
from choreo.proof.relaxed_events import add_contact_track, add_hold_ends, add_trigger, add_wait
from choreo.proof.relaxed_gaps import add_gap
from choreo.proof.relaxed_movers import add_mover


def relaxed_rows(problem: Problem) -> list[RelaxedRow]:
    """Give the rows of the linear relaxation of a problem."""
    rows = Rows()
    for mover in problem.movers:
        add_mover(rows, mover)
    for trigger in problem.triggers:
        add_trigger(rows, problem, trigger)
    for mover in problem.movers:
        for index, phase in enumerate(mover.phases):
            match phase:
                case Wait():
                    add_wait(rows, mover, index, phase)
                case Hold():
                    add_hold_ends(rows, problem, mover, index, phase)
                case Ramp():
                    pass  # concerns its own mover only
                case _:
                    assert_never(phase)
    for encounter in problem.encounters:
        match encounter:
            case ContactTrack():
                add_contact_track(rows, problem, encounter)
            case GapAt():
                add_gap(rows, problem, encounter)
            case ContactPoint() | PassAt():
                pass  # a point's stations stand with the holds that last until it; of a pass nothing is known
            case _:
                assert_never(encounter)
    return rows.rows
