"""Paths whose line through a course is driven: put in place of the middles, told, and what they prove."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache
from itertools import pairwise

from choreo.courses import COURSES, LINE_APPROACH_M, Course, Driven
from choreo.plans.record import Budget, BudgetLine
from choreo.problem import Staging
from choreo.problem.records import Hold, MoverProblem
from choreo.scenario import Event, Mover, PathSpec, Piece, Scenario
from choreo.scenario.records.edits import with_path
from choreo.solve import DrivenLine, Line, Shape, least_curvature_per_m
from choreo.solve.driven_line import KEPT_M
from choreo.words import Finding
from choreo.words.display import kmh
from choreo.words.quantities import quoted

# No line is looked for that is tighter than this (1/m): no vehicle turns on a radius of 2 m.
TIGHTEST_PER_M = 0.5


def with_driven_lines(scenario: Scenario) -> Scenario:
    """Give the scenario with the line of every course that asks for one, for the bodies that drive there.

    What is found goes into its notes. A path that nobody drives keeps its middles.
    """
    for name, spec in scenario.paths.items():
        course = spec.course
        if course is None or course.line == "centres" or course.driven is not None:
            continue
        movers = {key: one for key, one in scenario.movers.items() if one.path == name}
        moving = [one for one in movers.values() if one.programme]
        if not moving:
            continue
        line, least = _found(course, _around(moving), _within(moving))
        driven = Driven(line.most_per_m, least, line.binds, line.missed_m <= KEPT_M)
        scenario = with_path(scenario, name, _with_line(spec, course, line, driven))
        limits = [one.limits.lateral_mps2 for one in moving]
        note = _note(scenario, name, driven, course, min(limits))
        scenario = replace(scenario, notes=(*scenario.notes, note))
    return scenario


def _found(course: Course, around: Shape, within: Shape | None) -> tuple[Line, float | None]:
    """The line for a body around all, and what no line of a body within each falls short of."""
    if course.leads_right:
        # The same line as to the left, mirrored.
        line, least = _found(course.mirrored(), around, within)
        return line.mirrored(), least
    line = _driven(course, around)
    # The nearer what is known is to the least, the more is proven: another line than the gentlest tells little.
    gentlest = _driven(replace(course, line="least lateral acceleration"), around)
    known = gentlest.most_per_m if gentlest.missed_m <= KEPT_M else TIGHTEST_PER_M
    return line, None if within is None else _least(course, within, known)


@lru_cache(maxsize=64)
def _driven(course: Course, around: Shape) -> Line:
    return DrivenLine(course, around).found()


@lru_cache(maxsize=64)
def _least(course: Course, within: Shape, known_per_m: float) -> float | None:
    return least_curvature_per_m(course, within, known_per_m)


def _around(movers: list[Mover]) -> Shape:
    """A body that holds those of all movers."""
    corners = [corner for one in movers for corner in one.body.corners_m]
    return Shape(
        max(one.body.front_m for one in movers),
        max(one.body.rear_m for one in movers),
        max(abs(y) for _, y in corners),
    )


def _within(movers: list[Mover]) -> Shape | None:
    """A body that those of all movers hold; None where one has another shape than a rectangle ahead."""
    shapes = [_around([one]) for one in movers]
    for one, shape in zip(movers, shapes, strict=True):
        ends = shape.front_m, -shape.rear_m
        if {*one.body.corners_m} != {
            (x, side * shape.half_m) for x in ends for side in (1.0, -1.0)
        }:
            return None
    return Shape(
        min(one.front_m for one in shapes),
        min(one.rear_m for one in shapes),
        min(one.half_m for one in shapes),
    )


def _with_line(spec: PathSpec, course: Course, line: Line, driven: Driven) -> PathSpec:
    """The path with its line: a straight, curvature linear between the knots, a straight."""
    begin = line.begin_m
    pieces = [Piece("line", length_m=begin)] if begin > 0.0 else []
    bends = [float(bend) for bend in line.curvatures]
    stations = [float(station) for station in line.knots_m]
    for (begins, first), (ends, last) in pairwise(zip(stations, bends, strict=True)):
        step = ends - begins
        if first == last == 0.0:
            pieces.append(Piece("line", length_m=step))
        else:
            bend = Piece("clothoid", start_curvature_per_m=first, end_curvature_per_m=last)
            pieces.append(replace(bend, length_m=step))
    out = (spec.pieces[-1].length_m or 0.0) - LINE_APPROACH_M
    if out > 0.0:
        pieces.append(Piece("line", length_m=out))
    sections = tuple((name, begin + a, begin + b) for name, a, b in line.sections)
    sections += _behind(spec, sections)
    course = replace(course, driven=driven)
    return replace(spec, pieces=tuple(pieces), sections=sections, course=course)


def _behind(
    spec: PathSpec, sections: tuple[tuple[str, float, float], ...]
) -> tuple[tuple[str, float, float], ...]:
    """Named pieces of the middles behind the last section: as long on the line, which is nearly straight there."""
    told, found = {name for name, _, _ in sections}, []
    end_m = max((end for _, _, end in sections), default=0.0)
    for piece in spec.pieces:
        if piece.name is not None and piece.name not in told:
            found.append((piece.name, end_m, end_m + (piece.length_m or 0.0)))
            end_m = found[-1][2]
    return tuple(found)


def _note(
    scenario: Scenario, path: str, driven: Driven, course: Course, lateral_mps2: float
) -> Finding:
    place = scenario.origin("paths", path, "line")
    values = {"path": path, "course": course.name, "margin": f"{course.margin_m:g}"}
    if not driven.keeps:
        return Finding("plan.line-missed", "warning", place, values)
    words = [f"its tightest radius is {1.0 / driven.most_per_m:.2f} m"]
    if math.isfinite(lateral_mps2):
        fastest = math.sqrt(lateral_mps2 / driven.most_per_m)
        words.append(f"{lateral_mps2:.2f} m/s2 sideways let it be driven at {kmh(fastest)}")
        if driven.least_per_m:
            most = math.sqrt(lateral_mps2 / driven.least_per_m)
            words.append(f"no line at more than {kmh(most)}")
    elif driven.least_per_m:
        words.append(f"no line has one over {1.0 / driven.least_per_m:.2f} m")
    words.append(
        f"laid for {course.margin_m:g} m of margin, held by " + ", ".join(driven.binds[:6])
    )
    values["what"] = "; ".join(words)
    return Finding("plan.line", "note", place, values)


def other_line(scenario: Scenario, mover: str) -> str:
    """Give the advice to drive a mover's course on its gentler line, in words; empty where it is driven so."""
    course = scenario.paths[scenario.movers[mover].path or ""].course
    jerk = course is not None and course.line == "least jerk"
    return ", write `line: least lateral acceleration`" if jerk else ""


def line_budget(scenario: Scenario, staging: Staging) -> tuple[Budget, ...]:
    """Give the proof that no line through a course can be driven at the speed that is held on it.

    That is known where a hold of given speed is settled by the start of the first section and lasts until the end of
    the last one; or where it comes rolling, starts before the first one, and holds that speed until then.
    """
    for mover in staging.problem.movers:
        spec = scenario.paths.get(scenario.movers[mover.name].path or "")
        driven = None if spec is None or spec.course is None else spec.course.driven
        if spec is None or driven is None or not driven.least_per_m or not spec.sections:
            continue
        speed = _held_mps(mover, spec.sections[0], spec.sections[-1][0])
        if speed is None:
            continue
        needs = speed**2 * driven.least_per_m
        if needs <= mover.lateral_mps2:
            continue
        name, path = mover.name, scenario.movers[mover.name].path or ""
        place = scenario.origin("paths", path)
        limit = None if mover.lateral_origin is None else str(mover.lateral_origin)
        what = f"least of any line through {quoted(path)} at {kmh(speed)}"
        return (
            Budget(
                f"lateral acceleration of {name} through {quoted(path)}",
                name,
                "m/s2",
                BudgetLine("lateral acceleration it can hold", mover.lateral_mps2, limit),
                (BudgetLine(what, needs, None if place is None else str(place)),),
                needs - mover.lateral_mps2,
            ),
        )
    return ()


def _held_mps(mover: MoverProblem, first: tuple[str, float, float], last: str) -> float | None:
    """The speed that is held from the start of one section to the end of another, where the file says so."""
    name, begins_m, _ = first
    speed: float | None = mover.start_speed_mps
    begins = Event("mark start", name, mover.name)
    ends = Event("mark end", last, mover.name)
    for number, phase in enumerate(mover.phases):
        if not isinstance(phase, Hold):
            to = getattr(phase, "to", None)
            speed = speed if to is None else to.lo if to.fixed else None
        elif phase.until == ends:
            from_start = number == 0 and mover.rolls and mover.start.hi <= begins_m
            if from_start or phase.settled_by == begins:
                return speed
    return None


def on_a_line(scenario: Scenario) -> tuple[str, Scenario] | None:
    """Give the scenario with a driven line in place of the middles of a course's lanes, and that path's name.

    Of the first path that a mover with a lateral limit drives; None where there is no such.
    """
    for mover in scenario.movers.values():
        name = mover.path or ""
        spec = scenario.paths.get(name)
        course = None if spec is None else spec.course
        if spec is None or course is None or not mover.programme or course.line != "centres":
            continue
        ends = min(spec.pieces[0].length_m or 0.0, spec.pieces[-1].length_m or 0.0)
        limited = math.isfinite(mover.limits.lateral_mps2)
        if COURSES[course.name][0].takes("line") and limited and ends >= LINE_APPROACH_M:
            course = replace(course, line="least lateral acceleration")
            return name, with_path(scenario, name, replace(spec, course=course))
    return None


def line_left_open(scenario: Scenario) -> list[str]:
    """Give the movers whose line may be driven otherwise: what only their line makes impossible is no proof."""
    return [
        name
        for name, mover in scenario.movers.items()
        if (spec := scenario.paths.get(mover.path or "")) is not None
        and spec.course is not None
        and spec.course.driven is not None
        and math.isfinite(mover.limits.lateral_mps2)
    ]
