"""Place banks as rows: where a mover slides down when it is slow, it is not while it is slow.

A course's speed falls to a lowest one and rises again, from its start and to its end too. Where the floor holds it from
a speed w on only, what is slower than w lies wholly before there or wholly behind. Along a run of stations whose w
rises and falls once, one choice of the two serves all stations: what is slower than the one's w around a lowest speed
contains what is slower than a smaller w around it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence

from choreo.geometry.tolerances import SAME_M
from choreo.linear.affine import Affine
from choreo.linear.profile import Profile
from choreo.linear.records import Choice, Course, Step
from choreo.linear.rows import Row
from choreo.motion import least_ramp_distance_m
from choreo.problem.records import Ramp, Steep
from choreo.words.display import kmh
from choreo.words.records import dataclass

# Speeds that differ by less than this share are the same.
SAME = 1e-9


@dataclass(frozen=True, slots=True)
class Place:
    """A station on a bank: a mover slides down below one speed, at the neutral one nothing pulls (m, m/s)."""

    station_m: float
    least_mps: float
    neutral_mps: float


def sliding(course: Course) -> Iterator[Choice]:
    """Give a choice for each lowest speed of a course and each steep run: it is there before it, or behind it."""
    mover = course.mover
    for run in _runs(mover.steeps if course.steps else ()):
        for low in _lows(course):
            slow = [one for one in run if course.speed_mps(low) < one.least_mps * (1.0 - SAME)]
            if slow:
                before = tuple(_row(course, _until(course, low, one), one, 1) for one in slow)
                behind = tuple(_row(course, _since(course, low, one), one, -1) for one in slow)
                label = f"{mover.name} at {course.speed_mps(low):.2f} m/s and the steep bank at "
                yield Choice(f"{label}{slow[0].station_m:.1f} m", (behind, before))


def _runs(steeps: Sequence[Steep]) -> Iterator[list[Place]]:
    """Neighbours whose least speed rises and falls once; between two banks it is 0, so a run ends with its bank."""
    run: list[Place] = []
    falls = False
    until_m = -math.inf
    for steep in steeps:
        if run and steep.from_m > until_m + SAME_M:
            yield run
            run, falls = [], False
        for at_m, least_mps in zip((steep.from_m, steep.to_m), steep.least_mps, strict=True):
            if falls and least_mps > run[-1].least_mps * (1.0 + SAME):
                yield run
                run, falls = [], False
            falls = bool(run) and (falls or least_mps < run[-1].least_mps * (1.0 - SAME))
            run.append(Place(at_m, least_mps, steep.neutral_mps))
        until_m = steep.to_m
    if run:
        yield run


def _lows(course: Course) -> Iterator[int]:
    """The phases that begin at a lowest speed of a course, first and last among them; at equal ones the first."""
    count = len(course.steps)
    for index in range(count + 1):
        before = [course.speed_mps(one) for one in range(index)]
        after = [course.speed_mps(one) for one in range(index + 1, count + 1)]
        speed = course.speed_mps(index)
        falls = not before or before[-1] > speed
        rises = next((one > speed for one in after if one != speed), True)
        if falls and rises:
            yield index


def _until(course: Course, low: int, place: Place) -> Affine:
    """Where the mover is no longer slower than a speed after a lowest one: the end, if it never is again."""
    for step in course.steps[low:]:
        profile = step.profile
        if profile is not None and profile.end_mps >= place.least_mps * (1.0 - SAME):
            return _reached(course, step, profile, place.least_mps, careful=max)
    return course.end_station


def _since(course: Course, low: int, place: Place) -> Affine:
    """Where it became slower than a speed before a lowest one: the start, if it always was."""
    for step in reversed(course.steps[:low]):
        profile = step.profile
        if profile is not None and profile.start_mps >= place.least_mps * (1.0 - SAME):
            return _reached(course, step, profile, place.least_mps, careful=min)
    return course.start


def _reached(
    course: Course,
    step: Step,
    profile: Profile,
    speed_mps: float,
    careful: Callable[[float, float], float],
) -> Affine:
    """Where a ramp has a speed; of one that may be gentler on the careful side, of any shape on the generous one."""
    speed = min(max(speed_mps, min(profile.start_mps, profile.end_mps)), _most(profile))
    after = course.station(step.index + 1)
    ramp = course.mover.phases[step.index]
    if step.anyhow and isinstance(ramp, Ramp):
        slow = min(profile.start_mps, profile.end_mps)
        way = least_ramp_distance_m(slow, speed, ramp.table, math.inf) if speed > slow else 0.0
        return step.station.plus(way) if profile.rising else after.minus(way)
    if not profile.parts:
        return step.station
    into = profile.when(speed)
    way = profile.way_m if into is None else profile.at(into)[0]
    if step.lasts is None:
        return step.station.plus(way)
    even = (speed**2 - profile.start_mps**2) / (profile.end_mps**2 - profile.start_mps**2)
    share = careful(way / profile.way_m, even)
    return step.station.plus(after.minus(step.station).times(share))


def _most(profile: Profile) -> float:
    return max(profile.start_mps, profile.end_mps)


def _row(course: Course, where: Affine, place: Place, side: int) -> Row:
    """side: 1 no farther than a station on a bank, -1 no nearer."""
    speed, neutral = kmh(place.least_mps), kmh(place.neutral_mps)
    word = "before" if side > 0 else "behind"
    what = (
        f"{course.mover.name} slower than {speed} only {word} the bank down which it slides then "
        f"(neutral: {neutral})"
    )
    at, origin = place.station_m, course.mover.lateral_origin
    ends = (-math.inf, at) if side > 0 else (at, math.inf)
    return Row(where, *ends, what, "m", origin)
