"""Nobody goes back, and nobody is faster than the fastest of its speeds: what looks in ramps of any shape keep to."""

from __future__ import annotations

from choreo.linear.affine import Affine
from choreo.linear.model import Model
from choreo.linear.records import Course, Look
from choreo.linear.rows import at_least
from choreo.words.origin import Origin


def keep_pace(
    model: Model, first: Look, last: Look, label: str, origin: Origin | None = None
) -> None:
    """Add what a mover's way between two looks, of which one is surely no later, keeps to."""
    course = model.courses[first.mover]
    fastest = max((course.speed_mps(index) for index in range(len(course.steps))), default=0.0)
    way = last.station.minus(first.station)
    most = last.time.minus(first.time).times(fastest)
    model.rows += [at_least(way, 0.0, label, "m", origin), at_least(most, way, label, "m", origin)]


def keep_pace_with_others(model: Model, look: Look) -> None:
    """Add that between a look and every other one at its mover of which one is surely no later."""
    for other in model.looks:
        if other.mover != look.mover or other is look:
            continue
        for first, last in ((look, other), (other, look)):
            if _surely_later(model, last.time.minus(first.time)):
                keep_pace(model, first, last, f"{look.label}, {other.label}")
                break


def _surely_later(model: Model, by: Affine) -> bool:
    """Whether a time is a sum of what is never less than nothing: of phases, and of launches since go."""
    if by.constant < 0.0 or min(by.terms.values(), default=0.0) < 0.0:
        return False
    return by.terms.keys() <= {
        name for course in model.courses.values() for name in _lasting(course)
    }


def _lasting(course: Course) -> set[str]:
    names = set(course.launch.terms)
    for step in course.steps:
        names |= course.time(step.index + 1).minus(step.time).terms.keys()
    return names
