"""A problem written as a model, and what ends each phase."""

from __future__ import annotations

from collections.abc import Mapping

from choreo.linear.courses import add_course
from choreo.linear.encounters import add_encounter, add_order
from choreo.linear.model import Model
from choreo.linear.records import Course, Step, Track
from choreo.linear.rows import at_least, equal
from choreo.linear.triggers import add_crossing, add_setting
from choreo.problem.records import GapAt, Hold, Problem, Wait


def model_of(
    problem: Problem,
    tracks: Mapping[str, Track],
    freed: frozenset[tuple[str, int]] = frozenset(),
    *,
    anyhow: bool = False,
    exact: bool = False,
) -> Model:
    """Write a problem as rows.

    tracks: curved relations by encounter or trigger. freed: ramps (mover, phase) that may be gentler than their limit;
    anyhow: of any shape inside their limits. exact: without room beyond what counts. Raises NotLinear: a speed or a
    shape is left to choose.
    """
    model = Model(problem, tracks, freed, anyhow, exact or anyhow)
    for mover in problem.movers:
        model.courses[mover.name] = add_course(model, mover)
    for trigger in problem.triggers:
        add_crossing(model, trigger)
    for encounter in problem.encounters:
        if not isinstance(encounter, GapAt):
            model.encounter_time(encounter)
    for encounter in problem.encounters:
        add_encounter(model, encounter)
    add_order(model)
    for trigger in problem.triggers:
        add_setting(model, trigger)
    for course in model.courses.values():
        for step in course.steps:
            add_endings(model, course, step)
    for instant in problem.instants:
        model.time(instant.before)  # the passing of a mark is looked at, whoever asks for it
    return model


def add_endings(model: Model, course: Course, step: Step) -> None:
    """Add what ends a phase: a trigger, a time, a station, another event; and how long a hold settles."""
    phase, index, name = course.mover.phases[step.index], step.index, course.mover.name
    if isinstance(phase, Wait):
        ends = course.launch if index == 0 else course.time(index + 1)
        if phase.trigger is not None:
            acts = model.triggers[phase.trigger].acts
            model.rows.append(equal(ends, acts.plus(phase.latency_s), "", "s"))
        elif phase.until_s is not None:
            model.rows.append(equal(ends, phase.until_s, f"{name} waits", "s", phase.origin))
    elif isinstance(phase, Hold):
        _hold_ends(model, course, index, phase)
    elif phase.ends_at_m is not None:
        what, end = f"{name} at rest", course.station(index + 1)
        model.rows.append(equal(end, phase.ends_at_m, what, "m", phase.origin))


def _hold_ends(model: Model, course: Course, index: int, hold: Hold) -> None:
    name, ends = course.mover.name, course.time(index + 1)
    if hold.settle_s > 0 or hold.settled_by is not None:
        steady = ends if hold.settled_by is None else model.time(hold.settled_by)
        what = (
            f"{name} settles"
            if hold.settled_by is None
            else f"{name} settled by {hold.settled_by.name}"
        )
        model.rows.append(
            at_least(steady.minus(course.time(index)), hold.settle_s, what, "s", hold.origin)
        )
        if hold.settled_by is not None:
            model.rows.append(at_least(ends, steady, "", "s", hold.origin))
    if hold.ends_at_m is not None:
        what = f"{name} where {hold.name} ends"
        model.rows.append(equal(course.station(index + 1), hold.ends_at_m, what, "m", hold.origin))
    until = hold.until
    if until is None:
        return
    if until.kind.startswith("mark") and until.mover == name:
        what = f"{name} at {until.name}"
        model.rows.append(
            equal(course.station(index + 1), model.mark_station(until), what, "m", hold.origin)
        )
        return
    time = model.time(until).plus(hold.latency_s)
    if time != ends:
        model.rows.append(equal(ends, time, "", "s", hold.origin))
