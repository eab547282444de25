"""The courses by name: which keys each of them needs or may have, and what lays it out."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from choreo.courses import curves, lane_change, straights
from choreo.courses.record import CourseFault, Kind, Layout, Sizes

LINE = ("line", "margin", "turn")
COURSES: Mapping[str, tuple[Kind, Callable[[Sizes], Layout]]] = {
    "ISO 3888-1": (Kind(("vehicle width", "offset read as"), LINE), lane_change.severe),
    "ISO 3888-2": (Kind(("vehicle width", "last width"), LINE), lane_change.avoidance),
    "winter lane change": (Kind(("vehicle width", "offset read as"), LINE), lane_change.winter),
    "steady circle": (
        Kind(("radius",), ("laps", "clothoid", "lane width", "turn")),
        curves.steady_circle,
    ),
    "slalom": (Kind(("spacing", "count", "aside"), LINE), straights.slalom),
    "U-turn": (Kind(("radius",), ("clothoid", "lane width", "turn")), curves.u_turn),
    "braking in a turn": (
        Kind(("radius",), ("angle", "clothoid", "lane width", "turn")),
        curves.braking_in_a_turn,
    ),
    "sine with dwell": (Kind(("speed",), ("lane width",)), straights.sine_with_dwell),
    "EN-LD departure": (
        Kind(("speed", "lateral speed", "departure"), ("turn",)),
        straights.lane_departure,
    ),
    "EN-FC turning path": (Kind(("speed", "side"), ("turn",)), curves.turning_path),
    "S-bend": (Kind((), ("turn",)), curves.s_bend),
}
ANYWHERE = ("run-up", "run-out")


def lay_out(name: str, sizes: Sizes) -> Layout:
    """Lay out a course of `COURSES` whose keys are known to be there. Raises CourseFault."""
    _, make = COURSES[name]
    return make(sizes)


__all__ = ["ANYWHERE", "COURSES", "CourseFault", "lay_out"]
