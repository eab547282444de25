"""Movers of one lane that keep apart until they meet: rows of the forms that ask for them (`Form.apart_m`)."""

from __future__ import annotations

from collections.abc import Callable

import casadi as ca

from choreo.problem.records import ContactTrack, GapAt, Problem
from choreo.solve.events import Events
from choreo.solve.formulation import Expression, Form
from choreo.solve.tolerances import APART_AFTER_S, APART_LOOKS, IDLE_M, LANE_BEGINS_M
from choreo.words.origin import Origin


def add_apart_before_contact(
    events: Events, shape: ContactTrack, contact: ContactTrack, time: Expression
) -> None:
    """Add that movers which share the lane all the way are apart until they meet."""
    if not one_lane(events.numeric, shape):
        return

    def room(when: Expression) -> Expression:
        s_a, s_b = events.movers[contact.a].at(when)[0], events.movers[contact.b].at(when)[0]
        return contact.line_at(s_b) - s_a

    _add_apart(events, contact.name, (contact.a, contact.b), shape.origin, room, time)


def add_apart_until_gap(events: Events, shape: GapAt, gap: GapAt) -> None:
    """Add that movers are apart until the event at which their gap is judged."""

    def room(when: Expression) -> Expression:
        s_a, s_b = events.movers[gap.a].at(when)[0], events.movers[gap.b].at(when)[0]
        return gap.line_at(s_b) - gap.front_a_m - s_a

    _add_apart(events, gap.name, (gap.a, gap.b), shape.origin, room, events.times[gap.name])


def kept_apart(problem: Problem, form: Form) -> tuple[str, ...]:
    """Name the contacts before which a form keeps movers apart: what numbers decide of its rows."""
    if form.apart_m <= 0:
        return ()
    contacts = [one for one in problem.encounters if isinstance(one, ContactTrack)]
    return tuple(one.name for one in contacts if one_lane(problem, one))


def one_lane(problem: Problem, contact: ContactTrack) -> bool:
    """Say whether `b` is in the lane of `a` from its start on; if it joins later it may be beside or behind."""
    return contact.span_b.lo <= problem.mover(contact.b).start.lo + LANE_BEGINS_M


def _add_apart(
    events: Events,
    name: str,
    pair: tuple[str, str],
    origin: Origin | None,
    room: Callable[[Expression], Expression],
    time: Expression,
) -> None:
    """Some room at every phase change before a time, and at even shares of the way there."""
    label = f"{name}: {pair[0]} and {pair[1]} are apart before it"
    looks = [phase.start_s for mover in pair for phase in events.movers[mover].phases]
    looks += [time * share / APART_LOOKS for share in range(APART_LOOKS)]
    for look in looks:
        if look is time:
            continue
        # Looks later than the contact are clipped to it; there the room is 0 and IDLE_M keeps the row satisfied.
        before = ca.fmin(ca.fmax((time - look) / APART_AFTER_S, 0), 1)
        events.formulation.at_least(
            label,
            room(ca.fmin(look, time)) + IDLE_M,
            before * events.formulation.form.apart_m,
            "m",
            origin,
        )
