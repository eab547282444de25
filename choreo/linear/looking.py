"""Looks at a found plan: at which times, and where between them something is least."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from itertools import pairwise

import numpy as np

from choreo.linear.model import Since
from choreo.linear.records import Course
from choreo.linear.spots import Values
from choreo.problem.linear import Vector
from choreo.solve.reading import MoverReading

# In so many places of every piece of every motion.
LOOKS = 16
# Phases that begin this long (s) after a time count as begun.
EARLIER_S = 1e-6
# Golden sections of the interval round a least look: a time is known to a millionth of it, its value far better.
SECTIONS = 30
GOLDEN = (math.sqrt(5.0) - 1.0) / 2.0


def looks_at(motions: Mapping[str, MoverReading], names: tuple[str, ...]) -> list[float]:
    """Give times in s to look at some movers, by name: all ends of their pieces, and places in between."""
    ends = sorted(
        {
            0.0,
            *(
                end
                for name in names
                for q in motions[name].pieces
                for end in (q.start_s, q.start_s + q.duration_s)
            ),
        }
    )
    found = []
    for low, high in pairwise(ends):
        found += [low + (high - low) * step / LOOKS for step in range(LOOKS)]
    return [*found, *ends[-1:]]


def least_of(
    times: Sequence[float], value: Callable[[float], float], seen: Vector | None = None
) -> tuple[float, float]:
    """Give the least of a value and its time in s, also between the looks: wherever a look is below its neighbours.

    times: of the looks, in order; not empty. seen: the values then, shape (n,), where they are known already.
    """
    if seen is None:
        seen = np.array([value(time) for time in times])
    first = int(seen.argmin())
    found = float(seen[first]), times[first]
    low = (seen[:-2] > seen[1:-1]) & (seen[1:-1] <= seen[2:])
    for index in np.flatnonzero(low).tolist():
        found = min(found, _least_between(times[index], times[index + 2], value))
    return found


def _least_between(low: float, high: float, value: Callable[[float], float]) -> tuple[float, float]:
    """By golden section: a value that first falls and then rises."""
    left, right = high - GOLDEN * (high - low), low + GOLDEN * (high - low)
    at_left, at_right = (value(left), left), (value(right), right)
    for _ in range(SECTIONS):
        if at_left < at_right:
            high, at_right = at_right[1], at_left
            left = high - GOLDEN * (high - low)
            at_left = (value(left), left)
        else:
            low, at_left = at_left[1], at_right
            right = low + GOLDEN * (high - low)
            at_right = (value(right), right)
    return min(at_left, at_right)


def since_phase(courses: Sequence[Course], time_s: float, values: Values) -> tuple[Since, float]:
    """Give a time as so much after the last phase of either mover began (mover, index); after go before any of them."""
    begun = [
        (course.time(index).at(values), (course.mover.name, index))
        for course in courses
        for index in range(len(course.steps) + 1)
        if course.steps and course.time(index).at(values) <= time_s + EARLIER_S
    ]
    if not begun:
        return None, time_s
    at, since = max(begun, key=lambda one: one[0])
    return since, time_s - at
