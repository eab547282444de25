"""Where a look falls among what a mover does, and what that says of it."""

from __future__ import annotations

from collections.abc import Iterator

from choreo.linear.curves import InRamp, Interval, Somewhere
from choreo.linear.profile import Profile
from choreo.linear.records import Course, Look, Step
from choreo.linear.rows import Row, at_least, equal
from choreo.problem.records import Ramp

Values = dict[str, float]

# Where a look falls: before the launch, into the phase of an index, or past the end.
BEFORE, PAST = -1, -2


def placed(course: Course, look: Look, spot: int) -> Iterator[Row]:
    """What a spot says of a look's time, station and speed; nothing of curves."""
    if spot == PAST:
        what = f"{look.mover} has come to rest at {look.label}"
        yield at_least(look.time, course.end_time, what)
        yield equal(look.station, course.end_station, what, "m")
        yield equal(look.speed, 0.0, what, "m/s")
    elif spot == BEFORE:
        what = f"{look.mover} is not yet launched at {look.label}"
        speed = course.speed_mps(0)
        early = course.launch.minus(look.time)
        yield at_least(early, 0.0, what)
        yield equal(look.station, course.start.minus(early.times(speed)), what, "m")
        yield equal(look.speed, speed, what, "m/s")
    elif course.steps[spot].profile is None:
        step = course.steps[spot]
        what = f"{look.mover} is in its {course.mover.phases[spot].name} at {look.label}"
        into = look.time.minus(step.time)
        speed = 0.0 if step.stands else step.speed_mps
        yield at_least(into, 0.0, what)
        yield at_least(course.time(spot + 1), look.time, what)
        yield equal(look.station, step.station.plus(into.times(speed)), what, "m")
        yield equal(look.speed, speed, what, "m/s")


def in_ramp(course: Course, look: Look, spot: int) -> InRamp | Somewhere | None:
    """Give the curve that a look in a ramp is on; None of other spots."""
    step = course.steps[spot] if spot >= 0 else None
    if step is None or step.profile is None:
        return None
    ramp = course.mover.phases[step.index]
    what = f"{look.mover} is in its {ramp.name} at {look.label}"
    into, way = look.time.minus(step.time), look.station.minus(step.station)
    if not step.anyhow or not isinstance(ramp, Ramp):
        return InRamp(step.profile, into, way, look.speed, what)
    left = course.time(step.index + 1).minus(look.time)
    rest = course.station(step.index + 1).minus(look.station)
    ends = step.profile.start_mps, step.profile.end_mps
    return Somewhere(ramp, ends, look.speed, into, way, left, rest, what)


def interval_of(step: Step, profile: Profile) -> Interval:
    """Give the whole interval over which a curve in a ramp goes: of times, or of speeds where any shape will do."""
    if step.anyhow:
        return min(profile.start_mps, profile.end_mps), max(profile.start_mps, profile.end_mps)
    return 0.0, profile.duration_s


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
