"""What couples movers, in the relaxation: triggers, waits, holds that last until something, contacts in one lane."""

from __future__ import annotations

import math
from typing import assert_never

from choreo.problem.records import (
    ContactPoint,
    ContactTrack,
    Hold,
    MoverProblem,
    Problem,
    TriggerProblem,
    Wait,
)
from choreo.proof.relaxed import (
    Rows,
    Terms,
    acts,
    crossing,
    encounter_time,
    station,
    time,
    total,
)
from choreo.proof.relaxed_movers import add_past_bank, add_past_curve
from choreo.proof.speeds import speed_before
from choreo.scenario import Event, Span
from choreo.words.kinds import CONDITIONS


def add_trigger(rows: Rows, problem: Problem, trigger: TriggerProblem) -> None:
    """Add when a trigger's setting can be reached, and when it acts then."""
    crossed, origin = crossing(trigger.name), trigger.origin
    delay = trigger.expected_detection_s + trigger.latency_s
    label = f"detection and latency of {trigger.name}"
    rows.add(total(acts(trigger.name), crossed, -1.0), delay, delay, label, "s", origin)
    rows.define(crossed, 0.0, math.inf, "s")
    if CONDITIONS[trigger.condition].by_clock:
        setting = trigger.setting
        rows.add(crossed, setting.lo, setting.hi, f"trigger {trigger.name}", "s", origin)
    if trigger.during_phase is None:
        return
    watched, index = problem.mover(trigger.watch), trigger.during_phase
    name, hold = watched.name, watched.phases[index]
    if not isinstance(hold, Hold):
        rows.define(total(crossed, time(name, index), -1.0), 0.0, math.inf, "s")
        rows.define(total(time(name, index + 1), crossed, -1.0), 0.0, math.inf, "s")
        return
    into_hold, label = (
        total(crossed, time(name, index), -1.0),
        f"{name} settled when {trigger.name} fires",
    )
    rows.add(into_hold, hold.settle_s, math.inf, label, "s", hold.origin)
    rows.define(total(time(name, index + 1), crossed, -1.0), 0.0, math.inf, "s")
    speed = speed_before(watched, index)
    if speed.fixed and speed.lo > 0:
        _setting(rows, problem, trigger, index, speed.lo)
    elif speed.lo > 0:
        _setting_at_open_speed(rows, trigger, watched, index, speed)


def _setting(
    rows: Rows, problem: Problem, trigger: TriggerProblem, index: int, speed_mps: float
) -> None:
    """Station at the crossing = station at the hold's start + speed * time into it."""
    here = station(trigger.watch, index)
    value: Terms | None
    here = total(here, crossing(trigger.name), speed_mps)
    here = total(here, time(trigger.watch, index), -speed_mps)
    match trigger.condition:
        case "station":
            value, factor = here, 1.0
        case "distance":
            value, factor = _left(problem, trigger, here), 1.0
        case "time to collision":
            value, factor = _left(problem, trigger, here), speed_mps
        case "gap":
            _add_gap(rows, problem, trigger, here)
            return
        case "speed" | "time":
            return  # not of the way
        case _:
            assert_never(trigger.condition)
    if value is None:
        return
    low, high = trigger.setting.lo * factor, trigger.setting.hi * factor
    rows.add(value, low, high, f"trigger {trigger.name}", "m", trigger.origin)


def _setting_at_open_speed(
    rows: Rows, trigger: TriggerProblem, watched: MoverProblem, index: int, speed: Span
) -> None:
    """The same in a hold whose speed is open: what is left is driven at one speed until the hold ends."""
    name, low, high = watched.name, trigger.setting.lo, trigger.setting.hi
    what, origin = f"trigger {trigger.name}", trigger.origin
    into = total(crossing(trigger.name), time(name, index), -1.0)
    left = total(time(name, index + 1), crossing(trigger.name), -1.0)
    hold = watched.phases[index]
    ends_there = (
        trigger.to is not None
        and watched.hold_until(trigger.to) == index
        and isinstance(hold, Hold)
        and hold.latency_s == 0.0
    )
    match trigger.condition:
        case "station":
            here = station(name, index)
            rows.add(total(here, into, speed.lo), -math.inf, high, what, "m", origin)
            if math.isfinite(speed.hi):
                rows.add(total(here, into, speed.hi), low, math.inf, what, "m", origin)
        case "distance" if ends_there:
            rows.add(left, low / speed.hi, high / speed.lo, what, "s", origin)
        case "time to collision" if ends_there:
            rows.add(left, low, high, what, "s", origin)
        case "distance" | "time to collision" | "gap" | "speed" | "time":
            return  # not of the way, or not known to end there
        case _:
            assert_never(trigger.condition)


def _add_gap(rows: Rows, problem: Problem, trigger: TriggerProblem, here: Terms) -> None:
    """Add the gap from here to a mover that only stands; where one that moves is at the crossing is left open."""
    gap, setting = trigger.gap, trigger.setting
    if gap is None or not gap.exact or problem.mover(gap.b).phases:
        return
    room_m = gap.line_at(0.0) - gap.front_a_m
    ahead = total(here, station(gap.b, 0), -gap.slope)
    low, high = room_m - setting.hi, room_m - setting.lo
    rows.add(ahead, low, high, f"trigger {trigger.name}", "m", trigger.origin)


def _left(problem: Problem, trigger: TriggerProblem, here: Terms) -> Terms | None:
    """What is left to the trigger's encounter from here, where that station is known."""
    meets = station_at(problem.mover(trigger.watch), trigger.to)
    return None if meets is None else total(meets, here, -1.0)


def station_at(mover: MoverProblem, encounter: str | None) -> Terms | None:
    """Give a mover's station at an encounter, where a hold lasts until it or the mover only stands."""
    hold = None if encounter is None else mover.hold_until(encounter)
    if hold is not None:
        return station(mover.name, hold + 1)
    return station(mover.name, 0) if not mover.phases else None


def _time_of(problem: Problem, event: Event) -> tuple[Terms, float] | None:
    """An event's time as terms and a constant; None where it is not an event of the relaxation."""
    name, mover = event.name or "", event.mover or ""
    match event.kind:
        case "trigger":
            return acts(name), 0.0
        case "encounter":
            return encounter_time(name), 0.0
        case "instant":
            instant = problem.instant(name)
            before = _time_of(problem, instant.before)
            return None if before is None else (before[0], before[1] - instant.by_s)
        case "launch" | "phase start" | "phase end":
            boundary = problem.mover(mover).boundary_of(event)
            return None if boundary is None else (time(mover, boundary), 0.0)
        case "mark start" | "mark end":
            return None  # inside a phase
        case _:
            assert_never(event.kind)


def add_wait(rows: Rows, mover: MoverProblem, index: int, wait: Wait) -> None:
    """Add when a wait ends; a first one ends with the launch."""
    ends = time(mover.name, 0 if index == 0 else index + 1)
    if wait.trigger is not None:
        late = wait.latency_s
        rows.define(total(ends, acts(wait.trigger), -1.0), late, late, "s")
    elif wait.until_s is not None:
        what = f"{mover.name} waits"
        rows.add(ends, wait.until_s, wait.until_s, what, "s", wait.origin)


def add_hold_ends(
    rows: Rows, problem: Problem, mover: MoverProblem, index: int, hold: Hold
) -> None:
    """Add by when a hold has settled, when it ends, and where."""
    if hold.settled_by is not None and hold.settle_s > 0:
        _settled_by(rows, problem, mover, index, hold, hold.settled_by)
    if hold.until is not None:
        _until(rows, problem, mover, index, hold, hold.until)


def _settled_by(
    rows: Rows, problem: Problem, mover: MoverProblem, index: int, hold: Hold, event: Event
) -> None:
    at_mark = mover.mark_station(event)
    if at_mark is not None:
        latest = at_mark - hold.settle_s * speed_before(mover, index).lo
        what = f"{mover.name} settled by {event.name}"
        rows.add(station(mover.name, index), -math.inf, latest, what, "m", hold.origin)
    steady = _time_of(problem, event)
    if steady is None:
        return
    terms, constant = steady
    rows.define(total(time(mover.name, index + 1), terms, -1.0), constant, math.inf, "s")
    lasts = total(terms, time(mover.name, index), -1.0)
    what = f"{mover.name} settled by {event.name}"
    rows.add(lasts, hold.settle_s - constant, math.inf, what, "s", hold.origin)


def _until(
    rows: Rows, problem: Problem, mover: MoverProblem, index: int, hold: Hold, event: Event
) -> None:
    name, ends_m = mover.name, station(mover.name, index + 1)
    at_mark = mover.mark_station(event)
    if at_mark is not None:
        rows.add(ends_m, at_mark, at_mark, f"{name} at {event.name}", "m", hold.origin)
        add_past_curve(rows, mover, index, at_mark)
        add_past_bank(rows, mover, index, at_mark)
        return
    until = _time_of(problem, event)
    if until is not None:
        terms, constant = until
        constant += hold.latency_s
        ends_s = total(time(name, index + 1), terms, -1.0)
        what = f"{event.name}" if constant else ""
        rows.add(ends_s, constant, constant, what, "s", hold.origin)
    for encounter in problem.encounters:
        if not isinstance(encounter, ContactPoint) or not hold.lasts_until(encounter.name):
            continue
        at = encounter.station_of(name)
        if at is not None:  # a hold may last until the contact of others
            rows.add(ends_m, at, at, f"{name} at {encounter.name}", "m", encounter.origin)
            add_past_curve(rows, mover, index, at)
            add_past_bank(rows, mover, index, at)


def add_contact_track(rows: Rows, problem: Problem, contact: ContactTrack) -> None:
    """Add both stations of a straight lane's contact, where both are ends of holds (or stand)."""
    if not contact.exact:
        return  # a curved relation is only a tangent here: no proof
    _in_order(rows, problem, contact)
    ends_a = station_at(problem.mover(contact.a), contact.name)
    ends_b = station_at(problem.mover(contact.b), contact.name)
    if ends_a is None or ends_b is None:
        return
    room = contact.a0_m - contact.slope * contact.b0_m
    what = f"{contact.a} meets {contact.b} at {contact.name}"
    rows.add(total(ends_a, ends_b, -contact.slope), room, room, what, "m", contact.origin)


def _in_order(rows: Rows, problem: Problem, contact: ContactTrack) -> None:
    """In one lane from the start on, who is to be touched later isn't passed or overlapped at first.

    Places of rolling starts are those of their launches, which may be far apart in time.
    """
    if any(problem.mover(name).rolls for name in contact.pair):
        return
    start = problem.mover(contact.b).start
    if start.lo < contact.lane_b.lo or start.hi > contact.lane_b.hi:
        return  # `b` may begin where the line does not hold
    room = contact.a0_m - contact.slope * contact.b0_m
    terms = total(station(contact.a, 0), station(contact.b, 0), -contact.slope)
    what = f"{contact.a} starts before it reaches {contact.b}"
    rows.add(terms, -math.inf, room, what, "m", contact.origin)
