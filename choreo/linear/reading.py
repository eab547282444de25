"""The plain numbers of a plan found by the linear stage: pieces, phases, launches, triggers, encounters, instants."""

from __future__ import annotations

from collections.abc import Iterator
from typing import assert_never

from choreo.linear.model import Model
from choreo.linear.profile import Part, Profile, gentler
from choreo.linear.records import Course, Step
from choreo.linear.spots import Values
from choreo.linear.triggers import left_to
from choreo.problem.records import Ramp, TriggerProblem
from choreo.solve.reading import (
    MomentReading,
    MoverReading,
    PhaseReading,
    PieceReading,
    Reading,
    TriggerReading,
)


def reading_of(
    model: Model, values: Values, motions: dict[str, MoverReading] | None = None
) -> Reading:
    """Read every number of a plan off its unknowns. motions: of its movers, where they are known already."""
    return Reading(
        movers=motions_of(model, values) if motions is None else motions,
        triggers={one.name: _trigger(model, one, values) for one in model.problem.triggers},
        moments={
            name: MomentReading(
                met.time.at(values), met.station_a.at(values), met.station_b.at(values)
            )
            for name, met in model.met.items()
        },
        instants={
            one.name: model.time(one.before).minus(one.by_s).at(values)
            for one in model.problem.instants
        },
    )


def motions_of(model: Model, values: Values) -> dict[str, MoverReading]:
    """Give every mover's motion, by name."""
    return {name: mover_reading(course, values) for name, course in model.courses.items()}


def mover_reading(course: Course, values: Values) -> MoverReading:
    """Give one mover's motion."""
    phases = tuple(
        PhaseReading(
            course.time(index).at(values),
            course.station(index).at(values),
            course.speed_mps(index),
            course.time(index + 1).at(values),
            course.station(index + 1).at(values),
            course.speed_mps(index + 1),
        )
        for index in range(len(course.steps))
    )
    pieces = tuple(piece for step in course.steps for piece in _pieces(course, step, values))
    name, launch = course.mover.name, course.launch.at(values)
    return MoverReading(name, course.start.at(values), launch, pieces, phases)


def _pieces(course: Course, step: Step, values: Values) -> Iterator[PieceReading]:
    time, station, speed = step.time.at(values), step.station.at(values), step.speed_mps
    if step.profile is None:
        lasts = course.time(step.index + 1).at(values) - time
        if step.index > 0 or not step.stands:
            yield PieceReading(step.index, time, max(lasts, 0.0), station, speed, 0.0, 0.0)
        return
    profile = step.profile
    phase = course.mover.phases[step.index]
    parts = profile.parts
    if step.anyhow:
        parts = _with_pauses(course, step, profile, values)
    elif step.lasts is not None and isinstance(phase, Ramp):
        parts = (gentler(phase, speed, step.lasts.at(values)) or profile).parts
    for part in parts:
        piece = PieceReading(
            step.index, time, part.duration_s, station, speed, part.accel_mps2, part.jerk_mps3
        )
        yield piece
        time += part.duration_s
        station, speed, _ = piece.at(part.duration_s)


def _with_pauses(course: Course, step: Step, profile: Profile, values: Values) -> tuple[Part, ...]:
    """A ramp that is as long and as far as a plan has it: at its limit, with steady speed before and after."""
    ends = step.index, step.index + 1
    (began, end), (first, last) = (
        [of(index).at(values) for index in ends] for of in (course.time, course.station)
    )
    left_s, left_m = end - began - profile.duration_s, last - first - profile.way_m
    faster = profile.end_mps - profile.start_mps
    after_s = (left_m - left_s * profile.start_mps) / faster if faster else 0.0
    after_s = min(max(after_s, 0.0), max(left_s, 0.0))
    return Part(left_s - after_s, 0.0, 0.0), *profile.parts, Part(after_s, 0.0, 0.0)


def _trigger(model: Model, trigger: TriggerProblem, values: Values) -> TriggerReading:
    crossed = model.triggers[trigger.name]
    crossing, station = crossed.crossing.at(values), crossed.station.at(values)
    match trigger.condition:
        case "time":
            setting = crossing
        case "station":
            setting = station
        case "distance" | "time to collision":
            setting = left_to(model, trigger).at(values) - station
            if trigger.condition == "time to collision":
                setting /= model.courses[trigger.watch].steps[trigger.during_phase or 0].speed_mps
        case "gap":
            if crossed.gap is None:
                raise AssertionError(trigger.name)
            setting = crossed.gap.at(values)
        case "speed":
            setting = mover_reading(model.courses[trigger.watch], values).at(crossing)[1]
        case _:
            assert_never(trigger.condition)
    return TriggerReading(crossing, station, setting, crossed.acts.at(values))
