"""What a course asks of who drives it, in figures: circles, slaloms, lane changes, steering by angle.

Formulas: `courses/steady.py`, `forms.py`, `sine_with_dwell.py`. Lateral accelerations of forms are those of a small way
aside at constant speed; what the planned path itself asks for stands among the peaks.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from choreo.courses import Course, Sizes, forms, steady
from choreo.courses import sine_with_dwell as sine
from choreo.plans.record import MoverPlan, Plan
from choreo.report.sections import Notes, Section, Table
from choreo.scenario import Mover, PathSpec, Scenario
from choreo.track.motion import motion_of
from choreo.words.display import KMH_PER_MPS, kmh, plain
from choreo.words.records import dataclass

# A circle's speeds are told up to this (m/s2) where its mover has no limit of its own.
MOST_MPS2 = 8
# A robot turns the steering wheel no faster (deg/s): GB/T 30677-2014, read.
ROBOT_DEG_S = 1200.0
# Looks at a planned motion are so far apart (s).
LOOK_S = 0.05


@dataclass(frozen=True, slots=True)
class Driven:
    """A course that is driven: its mover as written and as planned, the path, the sizes that it is laid out by."""

    name: str
    mover: Mover
    planned: MoverPlan
    spec: PathSpec
    course: Course
    sizes: Sizes

    def fastest_mps(self, length_m: float) -> float:
        """Give the top speed from the end of the run-up on over a length; 0 where it doesn't come so far."""
        motion = motion_of(self.planned)
        if not motion.moves:
            return 0.0
        times = np.arange(float(motion.pieces[0, 0]), motion.end_s + LOOK_S, LOOK_S)
        stations, speeds = motion.states(np.unique(np.concatenate((times, motion.pieces[:, 0]))))
        begin = self.sizes.run_up_m
        on_it = speeds[(stations >= begin) & (stations <= begin + length_m)]
        return float(on_it.max()) if len(on_it) else 0.0


def figure_sections(scenario: Scenario, plan: Plan) -> list[Section]:
    """Give the figures of each course that a planned mover drives."""
    found: list[Section] = []
    for name, planned in plan.movers.items():
        mover = scenario.movers[name]
        spec = scenario.paths.get(mover.path or "")
        if spec is None or spec.course is None or spec.course.sizes is None:
            continue
        found += _figures(Driven(name, mover, planned, spec, spec.course, spec.course.sizes))
    return found


def _figures(driven: Driven) -> Iterator[Section]:
    match driven.course.name:
        case "steady circle":
            yield from _circle(driven)
        case "slalom":
            yield from _slalom(driven)
        case "lane change" | "EN-FC head-on" | "EN-VA cut-in" | "EN-VA cut-out":
            yield from _change(driven)
        case "weave":
            yield from _weave(driven)
        case "sine with dwell":
            yield from _sine(driven)
        case _:
            return


def _circle(driven: Driven) -> Iterator[Section]:
    radius = driven.sizes.radius_m or 0.0
    most = min(driven.mover.limits.lateral_mps2, float(MOST_MPS2))
    lap = 2.0 * math.pi * radius
    speeds = [(number, steady.speed_mps(radius, number)) for number in range(1, int(most) + 1)]
    rows = tuple(
        (str(number), plain(speed * KMH_PER_MPS, 2), plain(lap / speed, 2))
        for number, speed in speeds
    )
    title = f"{driven.name}: speeds on its circle, radius {radius:g} m, a lap {lap:.2f} m"
    header = ("lateral\nm/s2", "speed\nkm/h", "a lap\ns")
    if rows:
        yield Table(title, header, rows, frozenset(range(3)))


def _slalom(driven: Driven) -> Iterator[Section]:
    spacing, aside = driven.sizes.spacing_m or 0.0, driven.sizes.aside_m or 0.0
    fastest = driven.fastest_mps((len(driven.course.cones) + 1) * spacing)
    # A driven line is no such sine.
    if fastest == 0.0 or driven.course.line != "centres":
        return
    frequency, lateral = forms.slalom(spacing, fastest, aside)
    line = (
        f"a sine of {aside:.2f} m round cones {spacing:g} m apart at {kmh(fastest)}: "
        f"{frequency:.3f} Hz, {lateral:.2f} m/s2 sideways"
    )
    yield _notes(driven, line)


def _change(driven: Driven) -> Iterator[Section]:
    """The forms at the planned speed, and what two arcs with a straight between would be."""
    change = next(one for one in driven.spec.pieces if one.kind == "shift")
    way, length = abs(change.offset_m or 0.0), change.length_m or 0.0
    fastest = driven.fastest_mps(length)
    if fastest == 0.0:
        return
    lasts = length / fastest
    needs = [(name, *form.needs(way, lasts)) for name, form in forms.FORMS.items()]
    rows = tuple(
        (name, plain(lateral, 4), plain(jerk, 4) if math.isfinite(jerk) else "jumps")
        for name, lateral, jerk in needs
    )
    title = (
        f"{driven.name}: {way:g} m aside in {lasts:.3f} s "
        f"({length:g} m at {kmh(fastest)}), by forms of a lane change"
    )
    yield Table(title, ("form", "lateral\nm/s2", "jerk\nm/s3"), rows, frozenset((1, 2)))
    lines = [f"as two equal arcs: curvature {forms.two_arcs_per_m(way, length):.5f} 1/m"]
    if change.radius_m is not None:
        angle, straight = forms.arcs_and_straight(way, length, change.radius_m)
        lines.append(
            f"as two arcs of {change.radius_m:.2f} m with a straight between: each turns "
            f"{math.degrees(angle):.3f} deg, the straight is {straight:.3f} m"
        )
    yield _notes(driven, *lines)


def _weave(driven: Driven) -> Iterator[Section]:
    lateral, frequency = driven.sizes.lateral_mps2 or 0.0, driven.sizes.frequency_hz or 1.0
    speed = driven.sizes.speed_mps or 0.0
    amplitude, cycle = forms.weave(lateral, frequency, speed)
    yield _notes(
        driven,
        f"{lateral:g} m/s2 at {frequency:g} Hz and {kmh(speed)}: {amplitude:.4f} m to either side, "
        f"{cycle:.1f} m a cycle",
    )


def _sine(driven: Driven) -> Iterator[Section]:
    first, second, dwelt, end = sine.TIMES_S
    lines = [
        f"after the beginning of steer: first peak {first:.5f} s, second {second:.5f} s, dwell ends {dwelt:.5f} s, "
        f"steer ends {end:.5f} s; the yaw rate is looked at until {end + sine.WATCHED_S:.3f} s"
    ]
    light, heavy = (2.0 * way / sine.ASIDE_BY_S**2 for way in sine.ASIDE_M)
    aside = (
        f"{sine.ASIDE_M[0]:g} m aside in {sine.ASIDE_BY_S:g} s takes {light:.4f} m/s2 all the time, "
        f"{sine.ASIDE_M[1]:g} m (over 3500 kg) {heavy:.4f} m/s2"
    )
    lateral = driven.mover.limits.lateral_mps2
    if math.isfinite(lateral):
        way = sine.displacement_m(lateral, sine.ASIDE_BY_S)
        aside += f"; a sine of the {lateral:g} m/s2 of {driven.name} comes to {way:.4f} m"
    lines.append(aside)
    if driven.sizes.wheel_rad is not None:
        lines += _steered(abs(math.degrees(driven.sizes.wheel_rad)), driven.sizes.speed_mps or 0.0)
    yield _notes(driven, *lines)


def _steered(wheel_deg: float, speed_mps: float) -> Iterator[str]:
    lasts, way = sine.slowly_increasing(wheel_deg, speed_mps)
    yield (
        f"slowly to a wheel angle of {wheel_deg:g} deg, at {sine.SLOW_DEG_S:g} deg/s: {lasts:.3f} s, {way:.2f} m"
    )
    series = sine.amplitudes_deg(wheel_deg)
    of_five = sum(one >= sine.COUNTS * wheel_deg - 1e-9 for one in series)
    words = ", ".join(f"{one:g}" for one in series)
    yield (
        f"amplitudes of a series in deg: {words}; {len(series)} runs each way, {of_five} of them at "
        f"{sine.COUNTS:g} times that angle or more"
    )
    rate = sine.most_rate(series[-1])
    over = f", over the {ROBOT_DEG_S:g} deg/s of a steering robot" if rate > ROBOT_DEG_S else ""
    yield f"fastest steering, at {series[-1]:g} deg: {rate:.1f} deg/s{over}"


def _notes(driven: Driven, *lines: str) -> Notes:
    title = f"{driven.name}: figures of its course ({driven.course.name})"
    return Notes(title, lines, key="course figures")
