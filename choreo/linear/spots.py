"""Where a look falls among what a mover does, and what that says of it."""

from __future__ import annotations

from collections.abc import Iterator

from choreo.linear.records import Course, Look, Step
from choreo.linear.rows import Row, at_least, equal

Values = dict[str, float]

# Where a look falls: before the launch, into the phase of an index, or past the end.
BEFORE, PAST = -1, -2


def placed(course: Course, look: Look, spot: int) -> Iterator[Row]:
    """What a spot says of a look's time, station and speed; nothing of curves."""
    if spot == PAST:
        what = f"{look.mover} has come to rest at {look.label}"
        yield at_least(look.time, course.end_time, what)
        yield equal(look.station, course.end_station, what, "m")
        yield equal(look.speed, 0.0, what, "m")
    elif spot == BEFORE:
        what = f"{look.mover} is not yet launched at {look.label}"
        speed = course.speed_mps(0)
        early = course.launch.minus(look.time)
        yield at_least(early, 0.0, what)
        yield equal(look.station, course.start.minus(early.times(speed)), what, "m")
        yield equal(look.speed, speed, what, "m")
    elif course.steps[spot].anyhow:
        yield from _somewhere(course, course.steps[spot], look)
    elif course.steps[spot].profile is None:
        step = course.steps[spot]
        what = f"{look.mover} is in its {course.mover.phases[spot].name} at {look.label}"
        into = look.time.minus(step.time)
        speed = 0.0 if step.stands else step.speed_mps
        yield at_least(into, 0.0, what)
        yield at_least(course.time(spot + 1), look.time, what)
        yield equal(look.station, step.station.plus(into.times(speed)), what, "m")
        yield equal(look.speed, speed, what, "m")


def _somewhere(course: Course, step: Step, look: Look) -> Iterator[Row]:
    """A look somewhere in a ramp of any shape: between its ends, no slower and no faster than they are."""
    slow, fast = sorted((step.speed_mps, course.speed_mps(step.index + 1)))
    into, left = look.time.minus(step.time), course.time(step.index + 1).minus(look.time)
    way, rest = look.station.minus(step.station), course.station(step.index + 1).minus(look.station)
    yield Row(look.speed, slow, fast)
    for time, distance in ((into, way), (left, rest)):
        yield at_least(time, 0.0)
        yield at_least(distance, time.times(slow), unit="m")
        yield at_least(time.times(fast), distance, unit="m")


def falls(course: Course, time_s: float, values: Values) -> int:
    """The spot into which a time falls in a plan."""
    if time_s < course.launch.at(values):
        return BEFORE
    for step in course.steps:
        if time_s <= course.time(step.index + 1).at(values) and not (
            step.stands and step.index == 0
        ):
            return step.index
    return PAST
