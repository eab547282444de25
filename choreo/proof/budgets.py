"""One mover's distance and time budgets: chains of least needs against what there is.

Every piece is a bound that no plan can beat, so a chain that doesn't fit proves impossibility. Where a
value is open (a free speed, a free start) the most favourable one is taken: doubt widens, never narrows.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import assert_never

from choreo.motion import least_time_over_s
from choreo.plans.record import Budget, BudgetLine
from choreo.problem.records import (
    ContactPoint,
    Hold,
    MoverProblem,
    Problem,
    Ramp,
    TriggerProblem,
    Wait,
)
from choreo.proof.closing import closing_budgets
from choreo.proof.holds import bends, mark_budgets
from choreo.proof.lines import added, lacking, need, ramp_line, where
from choreo.proof.needs import ramp_time_s, ramp_words, rated_shape
from choreo.proof.speeds import phases_with_speeds, speed_before
from choreo.scenario import Event, Span
from choreo.words.display import short_kmh
from choreo.words.kinds import CONDITIONS

# A misfit below a micrometre or a microsecond (of m/s2, of m/s3) is rounding, not proof.
ROUNDING = 1e-6


def broken_budgets(problem: Problem) -> tuple[Budget, ...]:
    """Give every one-mover budget that doesn't fit by more than rounding, worst relative misfit first."""
    broken = [budget for budget in budgets_of(problem) if budget.short_by > ROUNDING]
    return tuple(sorted(broken, key=lambda b: -b.short_by / max(abs(b.available.value), ROUNDING)))


def budgets_of(problem: Problem) -> Iterator[Budget]:
    """Give all budgets of a problem, fitting or not, of one mover or of the speeds of two."""
    for mover in problem.movers:
        for encounter in problem.encounters:
            if isinstance(encounter, ContactPoint):
                yield from _encounter_budgets(problem, mover, encounter)
        yield from mark_budgets(mover)
        yield from _whole_path(mover)
        yield from _build_up(mover)
        yield from _within(mover)
    yield from closing_budgets(problem)


def _encounter_budgets(
    problem: Problem, mover: MoverProblem, encounter: ContactPoint
) -> Iterator[Budget]:
    station, index = encounter.station_of(mover.name), mover.hold_until(encounter.name)
    if station is None or index is None:
        return
    yield _run_up(problem, mover, encounter, station, index)
    yield from _run_out(mover, encounter, station, index)
    yield from bends(mover, index, station, encounter.name)
    if mover.launch_trigger is not None:
        trigger = problem.trigger(mover.launch_trigger)
        yield from _trigger_time(problem, mover, encounter, station, index, trigger)


def _run_up(
    problem: Problem, mover: MoverProblem, encounter: ContactPoint, station_m: float, index: int
) -> Budget:
    pieces = []
    for position, (speed, phase) in enumerate(phases_with_speeds(mover)[: index + 1]):
        match phase:
            case Ramp():
                pieces.append(ramp_line(speed, phase))
            case Hold():
                pieces += _hold_lines(problem, mover, encounter, position, phase, speed)
            case Wait():
                pass  # takes no way
            case _:
                assert_never(phase)
    available = BudgetLine(
        f"from its start to the encounter {encounter.name}",
        station_m - mover.start.lo,
        where(mover.start_origin),
    )
    title = f"{mover.name} can't be at speed and settled in time for {encounter.name}"
    return lacking(added(title, mover, "m", available, pieces), before_m=mover.start.lo)


def _hold_lines(
    problem: Problem,
    mover: MoverProblem,
    encounter: ContactPoint,
    position: int,
    hold: Hold,
    speed: Span,
) -> list[BudgetLine]:
    slowest = speed.lo
    if hold.for_m is not None:
        return [need(f"hold for {hold.for_m:g} m", hold.for_m, hold)]
    if hold.for_s is not None:
        return [need(f"hold {hold.for_s:g} s", hold.for_s * slowest, hold)]
    settled_before = list(_settled_by(problem, encounter, hold, speed))
    lines = []
    # Settling by some other event says nothing of how long this hold lasts before the encounter.
    if hold.settle_s > 0 and (hold.settled_by is None or settled_before):
        words = f"settle {hold.settle_s:g} s{_at(speed)}"
        lines.append(need(words, hold.settle_s * slowest, hold))
    if position != mover.hold_until(encounter.name):
        return lines
    after = [*_after_settling(problem, mover, encounter, position, speed), *settled_before]
    if after and (lines or hold.settle_s == 0):
        lines.append(max(after, key=lambda line: line.value))
    return lines


def _after_settling(
    problem: Problem, mover: MoverProblem, encounter: ContactPoint, position: int, speed: Span
) -> Iterator[BudgetLine]:
    """What must still lie between being settled and the encounter because triggers fire there."""
    for trigger in problem.triggers:
        here = trigger.watch == mover.name and trigger.during_phase == position
        if not here or trigger.to not in (None, encounter.name):
            continue
        place, least = where(trigger.origin), trigger.setting.lo
        words = f"trigger {trigger.name} fires {least:.3f} {CONDITIONS[trigger.condition].unit} before it"
        match trigger.condition:
            case "time to collision" if math.isfinite(least):
                yield BudgetLine(words, least * speed.lo, place)
            case "distance" if math.isfinite(least):
                yield BudgetLine(words, least, place)
            case "distance" | "time to collision":
                pass  # free: no least
            case "station" | "gap" | "speed" | "time":
                pass  # says nothing of what is left to the encounter
            case _:
                assert_never(trigger.condition)
        needed = _needed_by_waiting(problem, encounter, trigger)
        if needed > 0:
            words = f"trigger {trigger.name} must fire {needed:.3f} s before it for who waits"
            yield BudgetLine(words, needed * speed.lo, place)


def _needed_by_waiting(problem: Problem, encounter: ContactPoint, trigger: TriggerProblem) -> float:
    """Least time from a trigger's crossing to the encounter, over the movers that it launches."""
    least = 0.0
    for mover in problem.launched_by(trigger.name):
        station, index = encounter.station_of(mover.name), mover.hold_until(encounter.name)
        if station is None or index is None:
            continue
        lines = _time_lines(mover, station, index, trigger)
        least = max(least, sum(line.value for line in lines))
    return least


def _settled_by(
    problem: Problem, encounter: ContactPoint, hold: Hold, speed: Span
) -> Iterator[BudgetLine]:
    """A hold that must be settled by a named instant before the same encounter."""
    if hold.settled_by is None or hold.settled_by.kind != "instant":
        return
    for instant in problem.instants:
        before = Event("encounter", encounter.name)
        if instant.name == hold.settled_by.name and instant.before == before:
            words = f"{instant.name} is {instant.by_s:g} s before it"
            yield BudgetLine(words, instant.by_s * speed.lo, where(instant.origin))


def _run_out(
    mover: MoverProblem, encounter: ContactPoint, station_m: float, index: int
) -> Iterator[Budget]:
    pieces = []
    for speed, phase in phases_with_speeds(mover)[index + 1 :]:
        match phase:
            case Ramp():
                pieces.append(ramp_line(speed, phase))
            case Hold():
                least = phase.for_m if phase.for_m is not None else (phase.for_s or 0.0) * speed.lo
                pieces.append(need("hold", least, phase))
            case Wait():
                pass  # takes no way
            case _:
                assert_never(phase)
    if not pieces:
        return
    available = BudgetLine(
        f"from {encounter.name} to the end of its path",
        mover.room.hi - station_m,
        where(mover.room_origin),
    )
    title = f"{mover.name} can't stop before its path ends"
    yield lacking(added(title, mover, "m", available, pieces), beyond_m=mover.room.hi)


def _trigger_time(
    problem: Problem,
    mover: MoverProblem,
    encounter: ContactPoint,
    station_m: float,
    index: int,
    trigger: TriggerProblem,
) -> Iterator[Budget]:
    """A trigger with a given time to collision leaves just that much time."""
    watched = problem.mover(trigger.watch)
    if trigger.during_phase is None or trigger.to != encounter.name:
        return
    if watched.hold_until(encounter.name) != trigger.during_phase:
        return  # the watched mover changes speed in between: the setting is not the time left
    time = _time_left_s(trigger, speed_before(watched, trigger.during_phase + 1))
    if not math.isfinite(time):
        return
    available = BudgetLine(
        f"from trigger {trigger.name} to {encounter.name}", time, where(trigger.origin)
    )
    pieces = _time_lines(mover, station_m, index, trigger)
    title = f"{mover.name} can't be at {encounter.name} in time after trigger {trigger.name}"
    yield added(title, mover, "s", available, pieces)


def _time_left_s(trigger: TriggerProblem, speed: Span) -> float:
    """Most time that a trigger's setting leaves to its encounter, at the watched mover's speed; inf: unknown."""
    match trigger.condition:
        case "time to collision":
            return trigger.setting.hi
        case "distance":
            return trigger.setting.hi / speed.lo if speed.fixed and speed.lo > 0 else math.inf
        case "station" | "gap" | "speed" | "time":
            return math.inf
        case _:
            assert_never(trigger.condition)


def _time_lines(
    mover: MoverProblem, station_m: float, index: int, trigger: TriggerProblem
) -> list[BudgetLine]:
    place = where(trigger.origin)
    lines = [
        BudgetLine("detection, half a sampling period", trigger.expected_detection_s, place),
        BudgetLine("latency", trigger.latency_s, place),
    ]
    run_up = phases_with_speeds(mover)[: index + 1]
    ramps = [(speed, phase) for speed, phase in run_up if isinstance(phase, Ramp)]
    for speed, ramp in ramps:
        lines.append(need(ramp_words(speed, ramp), ramp_time_s(speed, ramp), ramp))
    speed, hold = run_up[-1][0], mover.hold(index)
    rest = _least_rest_s(ramps, station_m - mover.start.hi, speed)
    settle = hold.settle_s if hold.settled_by is None else 0.0
    lines.append(need(f"the rest of the way{_at(speed)}", max(rest, settle), hold))
    return lines


def _least_rest_s(ramps: list[tuple[Span, Ramp]], way_m: float, speed: Span) -> float:
    """Time that is left for the hold after one ramp; 0 where the programme is not just ramp and hold."""
    if len(ramps) != 1 or not math.isfinite(way_m) or not speed.fixed or speed.lo <= 0:
        return 0.0
    before, ramp = ramps[0]
    if not before.fixed or ramp.direction < 0:
        return 0.0
    if ramp.rated:
        return max(0.0, (way_m - rated_shape(before, ramp).distance_m) / speed.lo)
    if ramp.lasting_s is not None:
        return max(0.0, way_m / speed.lo - ramp.lasting_s)
    if ramp.over_m is not None:
        return max(0.0, (way_m - ramp.over_m) / speed.lo)
    least = least_time_over_s(way_m, before.lo, speed.lo, ramp.table, ramp.jerk_mps3)
    return max(0.0, least - ramp_time_s(before, ramp))


def least_way(mover: MoverProblem) -> list[BudgetLine]:
    """Give the least needs (m) of all its phases in turn, from its start to rest."""
    pieces = []
    for speed, phase in phases_with_speeds(mover):
        match phase:
            case Ramp():
                pieces.append(ramp_line(speed, phase))
            case Hold():
                least = max(phase.for_m or 0.0, (phase.for_s or 0.0) * speed.lo)
                if phase.settled_by is None:
                    least = max(least, phase.settle_s * speed.lo)
                pieces.append(need(f"hold{_at(speed)}", least, phase))
            case Wait():
                pass  # takes no way
            case _:
                assert_never(phase)
    return pieces


def _whole_path(mover: MoverProblem) -> Iterator[Budget]:
    """From the earliest start to rest."""
    if not mover.phases:
        return
    pieces = least_way(mover)
    title = f"{mover.name} needs more path than there is"
    room = BudgetLine(
        "from its start to the end of its path",
        mover.room.hi - mover.start.lo,
        where(mover.room_origin),
    )
    yield lacking(added(title, mover, "m", room, pieces), beyond_m=mover.room.hi)
    if math.isfinite(mover.stroke_m):
        stroke = BudgetLine("stroke", mover.stroke_m, where(mover.stroke_origin))
        title = f"{mover.name} needs more than its stroke"
        over = added(title, mover, "m", stroke, pieces)
        # Where an open start would have it nobody knows.
        start_m = mover.start.lo if mover.start.fixed else math.inf
        yield lacking(over, beyond_m=start_m + mover.stroke_m)


def _build_up(mover: MoverProblem) -> Iterator[Budget]:
    """A build-up time that asks for more jerk than the mover has."""
    for phase in mover.phases:
        if not isinstance(phase, Ramp) or phase.build_up_s is None or math.isinf(phase.jerk_mps3):
            continue
        if not phase.rated:
            continue
        jerk = phase.table[0][1] / phase.build_up_s
        words = f"{phase.table[0][1]:g} m/s2 built up in {phase.build_up_s:g} s"
        available = BudgetLine("jerk it can do", phase.jerk_mps3, where(mover.origin))
        title = f"{mover.name} can't build up its acceleration that quickly"
        yield added(title, mover, "m/s3", available, [need(words, jerk, phase)])


def _within(mover: MoverProblem) -> Iterator[Budget]:
    """A ramp that is to take less way than it can."""
    for speed, phase in phases_with_speeds(mover):
        if not isinstance(phase, Ramp) or phase.within_m is None or phase.over_m is not None:
            continue
        room = BudgetLine("within", phase.within_m, where(phase.origin))
        title = f"{mover.name} {phase.name} can't keep to its `within`"
        yield added(title, mover, "m", room, [ramp_line(speed, phase)])


def _at(speed: Span) -> str:
    return f" at {short_kmh(speed.lo)}" if speed.fixed else ""
