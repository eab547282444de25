"""Gaps in the relaxation: the follower's station at the event, and the fixed time from a gap to its contact.

Only where everything is given: the follower is in a hold at a given speed, the gap is an exact line between stations,
and the one ahead brakes to rest in a known way from the event on. Else nothing is said, which only widens.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from choreo.motion import RampShape
from choreo.problem.records import (
    ContactTrack,
    EventRef,
    GapAt,
    Hold,
    MoverProblem,
    Problem,
    Ramp,
    Range,
)
from choreo.proof.budgets import rated_shape
from choreo.proof.speeds import speed_before
from choreo.words.origin import Origin

Terms = dict[str, float]
RowParts = tuple[Terms, float, float, str, str, Origin | None]
BISECTIONS = 80


def gap_rows(problem: Problem, gap: GapAt) -> Iterator[RowParts]:
    """Give the rows of one gap: (terms, lo, hi, what, unit, origin)."""
    yield from _in_order(gap)
    follower, ahead = problem.mover(gap.a), problem.mover(gap.b)
    event = _event_time(problem, gap.at)
    state_a, state_b = _state(follower, gap, event), _state(ahead, gap, event)
    if not gap.exact or state_a is None or state_b is None:
        return
    (station_a, speed), (station_b, other) = state_a, state_b
    if not speed.fixed or not other.fixed:
        return
    rates = {
        "distance": 1.0,
        "time gap": speed.lo,
        "time to collision": speed.lo - gap.slope * other.lo,
    }
    rate = rates[gap.measure]
    if rate <= 0:
        return
    # facing + slope (s_b - b0) - front - s_a = gap
    terms = {name: gap.slope * value for name, value in station_b.items()}
    for name, value in station_a.items():
        terms[name] = terms.get(name, 0.0) - value
    fixed = gap.facing0_m - gap.slope * gap.b0_m - gap.front_a_m
    lo, hi = gap.wanted.lo * rate - fixed, gap.wanted.hi * rate - fixed
    yield terms, lo, hi, f"{gap.name}: {gap.measure}", "m", gap.origin
    hold, boundary = _hold_at(follower, gap), _boundary(ahead, gap.at)
    if hold is not None and boundary is not None:
        yield from _until_contact(problem, gap, (hold, boundary), speed.lo, gap.wanted.lo * rate)


def _event_time(problem: Problem, at: EventRef) -> str | None:
    """The relaxation's variable for an event's time."""
    if at.kind == "encounter":
        return f"{at.name} time"
    if not at.kind.startswith("phase"):
        return None
    boundary = _boundary(problem.mover(at.mover or ""), at)
    return None if boundary is None else f"{at.mover} time {boundary}"


def _state(mover: MoverProblem, gap: GapAt, event: str | None) -> tuple[Terms, Range] | None:
    """A mover's station (as terms) and speed at the event, where it is surely known."""
    boundary = _boundary(mover, gap.at)
    if boundary is None and gap.at.kind == "encounter":
        hold = mover.hold_until(gap.at.name or "")
        boundary = None if hold is None else hold + 1
    if boundary is not None:
        return {f"{mover.name} station {boundary}": 1.0}, speed_before(mover, boundary)
    hold = _hold_at(mover, gap)
    if hold is None or event is None:
        return None
    speed = speed_before(mover, hold)
    if not speed.fixed:
        return None
    name = mover.name
    terms = {f"{name} station {hold}": 1.0, event: speed.lo, f"{name} time {hold}": -speed.lo}
    return terms, speed


def _in_order(gap: GapAt) -> Iterator[RowParts]:
    """Who follows on one path starts behind: it can't pass through the other's body."""
    if gap.exact and gap.same_path and gap.slope == 1.0 and gap.wanted.lo >= 0:
        room = gap.facing0_m - gap.b0_m - gap.front_a_m
        terms = {f"{gap.a} station 0": 1.0, f"{gap.b} station 0": -1.0}
        yield terms, -math.inf, room, f"{gap.a} starts behind {gap.b}", "m", gap.origin


def _hold_at(follower: MoverProblem, gap: GapAt) -> int | None:
    """The hold that surely covers the event: one that it ends, or that must have settled by it."""
    events = (gap.at, EventRef("encounter", gap.name))
    for index, phase in enumerate(follower.phases):
        if isinstance(phase, Hold) and (phase.settled_by in events or phase.until in events):
            return index
    return None


def _boundary(ahead: MoverProblem, at: EventRef) -> int | None:
    """The number of the phase end of the one ahead that the event is."""
    if at.mover != ahead.name or not at.kind.startswith("phase"):
        return None
    return ahead.phase_index(at.name) + (1 if at.kind.endswith("end") else 0)


def _until_contact(
    problem: Problem, gap: GapAt, places: tuple[int, int], speed_mps: float, gap_m: float
) -> Iterator[RowParts]:
    hold, boundary = places
    phase = problem.mover(gap.a).phases[hold]
    until = phase.until if isinstance(phase, Hold) else None
    shape = _braking(problem.mover(gap.b), boundary)
    if until is None or until.kind != "encounter" or shape is None or not gap.wanted.fixed:
        return
    for contact in problem.encounters:
        same = isinstance(contact, ContactTrack) and (contact.a, contact.b) == (gap.a, gap.b)
        if not same or contact.name != until.name or not isinstance(contact, ContactTrack):
            continue
        if not contact.exact or contact.slope != 1.0 or gap.slope != 1.0:
            return
        # Room to the contact differs from the bumper gap by a constant of the two bodies.
        room = gap_m + (contact.a0_m - contact.b0_m) - (gap.facing0_m - gap.b0_m - gap.front_a_m)
        time = _closing_time_s(room, speed_mps, shape)
        terms = {f"{gap.a} time {hold + 1}": 1.0, f"{gap.b} time {boundary}": -1.0}
        what = f"{gap.a} reaches the braking {gap.b}"
        yield terms, time, time, what, "s", contact.origin


def _braking(ahead: MoverProblem, boundary: int) -> RampShape | None:
    """The known way in which the one ahead comes to rest from the boundary on."""
    rest = ahead.phases[boundary:]
    speed = speed_before(ahead, boundary)
    if len(rest) != 1 or not speed.fixed:
        return None
    ramp = rest[0]
    if not isinstance(ramp, Ramp) or not ramp.rated or ramp.to != Range(0.0, 0.0):
        return None
    return rated_shape(speed, ramp)


def _closing_time_s(room_m: float, speed_mps: float, shape: RampShape) -> float:
    """When a follower at constant speed has used up its room to one that brakes to rest."""
    low, high = 0.0, (room_m + shape.distance_m) / speed_mps
    for _ in range(BISECTIONS):
        middle = (low + high) / 2
        if speed_mps * middle - shape.distance_after_m(middle) < room_m:
            low = middle
        else:
            high = middle
    return (low + high) / 2
