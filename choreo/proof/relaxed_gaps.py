"""Gaps in the relaxation: the follower's station at the event, and the fixed time from a gap to its contact.

Only where everything is given: the follower is in a hold at a given speed, the gap is an exact line between stations,
and the one ahead brakes to rest in a known way from the event on. Else nothing is said, which only widens.
"""

from __future__ import annotations

import math
from typing import assert_never

from choreo.motion import RampShape
from choreo.problem.records import ContactTrack, GapAt, Hold, MoverProblem, Problem, Ramp
from choreo.proof.needs import rated_shape
from choreo.proof.relaxed import Rows, Terms, encounter_time, station, time, total
from choreo.proof.speeds import speed_before
from choreo.scenario import Event, Span

# Halvings of an interval of seconds: below the rounding of any time.
BISECTIONS = 80


def add_gap(rows: Rows, problem: Problem, gap: GapAt) -> None:
    """Add the rows of one gap."""
    _in_order(rows, problem, gap)
    follower, ahead = problem.mover(gap.a), problem.mover(gap.b)
    event = _event_time(problem, gap.at)
    state_a, state_b = _state(follower, gap, event), _state(ahead, gap, event)
    if not gap.exact or state_a is None or state_b is None:
        return
    (station_a, speed), (station_b, other) = state_a, state_b
    if not speed.fixed or not other.fixed:
        return
    rate = _counted_by(gap, speed.lo, other.lo)
    if rate <= 0:
        return
    # line0 + slope (s_b - b0) - front - s_a = gap
    terms = total(
        {variable: gap.slope * value for variable, value in station_b.items()}, station_a, -1.0
    )
    fixed = gap.facing0_m - gap.slope * gap.b0_m - gap.front_a_m
    lo, hi = gap.wanted.lo * rate - fixed, gap.wanted.hi * rate - fixed
    rows.add(terms, lo, hi, f"{gap.name}: {gap.measure}", "m", gap.origin)
    hold, boundary = _hold_at(follower, gap), _phase_boundary(ahead, gap.at)
    if hold is not None and boundary is not None:
        _until_contact(rows, problem, gap, (hold, boundary), speed.lo, gap.wanted.lo * rate)


def _counted_by(gap: GapAt, speed_mps: float, other_mps: float) -> float:
    """What one unit of a gap's measure counts in metres: a metre is a metre, a second is the speed it divides by."""
    match gap.measure:
        case "distance":
            return 1.0
        case "time gap":
            return speed_mps
        case "time to collision":
            return speed_mps - gap.slope * other_mps
        case _:
            assert_never(gap.measure)


def _event_time(problem: Problem, at: Event) -> Terms | None:
    """The time of the event at which a gap is judged, where the relaxation knows it."""
    match at.kind:
        case "encounter":
            return encounter_time(at.name or "")
        case "phase start" | "phase end":
            boundary = problem.mover(at.mover or "").boundary_of(at)
            return None if boundary is None else time(at.mover or "", boundary)
        case "launch" | "trigger" | "instant" | "mark start" | "mark end":
            return None
        case _:
            assert_never(at.kind)


def _phase_boundary(mover: MoverProblem, at: Event) -> int | None:
    """The boundary of the mover's phases that the event is."""
    return None if at.kind == "launch" else mover.boundary_of(at)


def _state(mover: MoverProblem, gap: GapAt, event: Terms | None) -> tuple[Terms, Span] | None:
    """A mover's station (as terms) and speed at the event, where it is surely known."""
    boundary = _phase_boundary(mover, gap.at)
    if boundary is None and gap.at.kind == "encounter":
        hold = mover.hold_until(gap.at.name or "")
        boundary = None if hold is None else hold + 1
    if boundary is not None:
        return station(mover.name, boundary), speed_before(mover, boundary)
    hold = _hold_at(mover, gap)
    if hold is None or event is None:
        return None
    speed = speed_before(mover, hold)
    if not speed.fixed:
        return None
    terms = total(station(mover.name, hold), event, speed.lo)
    return total(terms, time(mover.name, hold), -speed.lo), speed


def _in_order(rows: Rows, problem: Problem, gap: GapAt) -> None:
    """Who follows on one path starts behind: it can't pass through the other's body.

    Places of rolling starts are those of their launches, which may be far apart in time.
    """
    if any(problem.mover(name).rolls for name in gap.pair):
        return
    if gap.exact and gap.same_path and gap.slope == 1.0 and gap.wanted.lo >= 0:
        room = gap.facing0_m - gap.b0_m - gap.front_a_m
        terms = total(station(gap.a, 0), station(gap.b, 0), -1.0)
        rows.add(terms, -math.inf, room, f"{gap.a} starts behind {gap.b}", "m", gap.origin)


def _hold_at(follower: MoverProblem, gap: GapAt) -> int | None:
    """The hold that surely covers the event: one that it ends, or that must have settled by it."""
    events = (gap.at, Event("encounter", gap.name))
    for index, phase in enumerate(follower.phases):
        if isinstance(phase, Hold) and (phase.settled_by in events or phase.until in events):
            return index
    return None


def _until_contact(
    rows: Rows,
    problem: Problem,
    gap: GapAt,
    places: tuple[int, int],
    speed_mps: float,
    gap_m: float,
) -> None:
    """Add the time from the gap to the contact; places: the follower's hold, the boundary at which braking begins."""
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
        lasts_s = _closing_time_s(room, speed_mps, shape)
        terms = total(time(gap.a, hold + 1), time(gap.b, boundary), -1.0)
        what = f"{gap.a} reaches the braking {gap.b}"
        rows.add(terms, lasts_s, lasts_s, what, "s", contact.origin)


def _braking(ahead: MoverProblem, boundary: int) -> RampShape | None:
    """The known way in which the one ahead comes to rest from the boundary on."""
    rest = ahead.phases[boundary:]
    speed = speed_before(ahead, boundary)
    if len(rest) != 1 or not speed.fixed:
        return None
    ramp = rest[0]
    if not isinstance(ramp, Ramp) or not ramp.rated or ramp.to != Span(0.0, 0.0):
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
