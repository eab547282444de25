"""Paths laid out as a course -> PathSpec."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict

from choreo.courses import ANYWHERE, CHOICES, COURSES, LINE_APPROACH_M, CourseFault, Sizes, lay_out
from choreo.scenario.making.draft import Draft
from choreo.scenario.records.scenario import PathSpec, Piece
from choreo.scenario.text.document import Keys
from choreo.scenario.written import scenario as w
from choreo.scenario.written.courses import CourseKeysWritten


def course_of(draft: Draft, keys: Keys, path: w.PathWritten) -> PathSpec | None:
    """Lay out a course by its name; which keys it needs and may have the name says."""
    name, where = path.course or "", f"path `{keys[-1]}`"
    if name not in COURSES:
        draft.unknown((*keys, "course"), "course", name, COURSES)
        return None
    started = ["start"] if path.start is not None else []
    missing = check_course_keys(draft, keys, name, [*_given(path), *started])
    if missing or path.start is None:
        return None
    try:
        layout = lay_out(name, _sizes(path))
    except CourseFault as found:
        for fault in found.every:
            place, what = (*keys, fault.key), fault.what
            draft.fault("scenario.bad-value", place, where=where, what=what, instead=fault.instead)
        return None
    sizes = _sizes(path)
    if layout.course.line != "centres" and min(sizes.run_up_m, sizes.run_out_m) < LINE_APPROACH_M:
        what = f"a driven line needs {LINE_APPROACH_M:g} m of run-up and of run-out"
        instead = "Make both longer, or leave them out."
        place = (*keys, "line")
        draft.fault("scenario.bad-value", place, where=where, what=what, instead=instead)
        return None
    if layout.course.line == "centres" and path.margin is not None:
        what = "a line from middle to middle is laid for no `margin`"
        instead = "Write `line: least lateral acceleration` or `line: least jerk` beside it, or leave it out."
        place = (*keys, "margin")
        draft.fault("scenario.bad-value", place, where=where, what=what, instead=instead)
        return None
    pieces = tuple(Piece(**asdict(piece)) for piece in layout.pieces)
    return PathSpec(
        start_m=path.start,
        heading_rad=path.heading,
        pieces=pieces,
        course=layout.course,
        sections=tuple((name, at, at) for name, at in layout.places),
    )


def check_course_keys(draft: Draft, keys: Keys, name: str, given: Sequence[str]) -> list[str]:
    """Tell what a course of `COURSES` lacks, and what it takes no notice of; gives what is missing.

    given: keys of a course that are written, and `start`.
    """
    kind, _ = COURSES[name]
    where = f"path `{keys[-1]}`"
    missing = [key for key in (*kind.needs, "start") if key not in given]
    for key in missing:
        choices = f"; it may be {CHOICES[key]}" if key in CHOICES else ""
        whose = f"{where} (course {name}{choices})"
        draft.fault("scenario.missing-key", keys, key=key, where=whose)
    known = (*kind.needs, *kind.may, *ANYWHERE, "start")
    words = ", ".join(f"`{key}`" for key in known if key not in ("start", *ANYWHERE))
    for key in given:
        if key not in known:
            what = f"`course: {name}` takes no `{key}`"
            instead = f"Leave it out; its own keys are {words}." if words else "Leave it out."
            draft.fault("scenario.bad-value", (*keys, key), where=where, what=what, instead=instead)
    return missing


def check_faulty_course(draft: Draft, keys: Keys, data: object) -> None:
    """Of a path that has a fault already: tell what its course lacks, all the same. data: as written."""
    if not isinstance(data, dict) or data.get("course") not in COURSES:
        return
    fields = CourseKeysWritten.model_fields
    names = {one.alias or field for field, one in fields.items()} - {"course"} | {"start"}
    check_course_keys(draft, keys, data["course"], [key for key in data if key in names])


def _given(path: w.PathWritten) -> list[str]:
    """The keys of a course that are written, by the names of the file."""
    fields = CourseKeysWritten.model_fields
    return [
        one.alias or field
        for field, one in fields.items()
        if field in path.model_fields_set and field != "course"
    ]


def check_no_course(draft: Draft, keys: Keys, path: w.PathWritten) -> None:
    """Keys of a course have no meaning on another path; laps have one on a closed one through points."""
    for key in _given(path):
        if key == "laps" and path.surveyed is not None:
            if not path.closed:
                draft.fault(
                    "scenario.missing-key", (*keys, key), key="closed", where=f"path `{keys[-1]}`"
                )
            continue
        where = f"path `{keys[-1]}`"
        draft.fault("scenario.missing-key", (*keys, key), key="course", where=f"{where} (`{key}`)")


def _sizes(path: w.PathWritten) -> Sizes:
    usual = Sizes()
    return Sizes(
        vehicle_width_m=path.vehicle_width,
        offset_read_as=path.offset_read_as,
        last_width_m=path.last_width,
        lane_width_m=path.lane_width,
        radius_m=path.radius,
        angle_rad=path.angle,
        clothoid_m=path.clothoid,
        laps=path.laps,
        spacing_m=path.spacing,
        count=path.count,
        aside_m=path.aside,
        speed_mps=path.speed,
        lateral_mps=path.lateral_speed,
        lateral_mps2=path.lateral_acceleration,
        frequency_hz=path.frequency,
        wheel_rad=path.wheel_angle,
        length_m=path.length,
        departure=path.departure,
        side=path.side,
        turn=path.turn,
        run_up_m=usual.run_up_m if path.run_up is None else path.run_up,
        run_out_m=usual.run_out_m if path.run_out is None else path.run_out,
        line=path.line,
        margin_m=path.margin,
    )
