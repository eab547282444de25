"""The courses by name: which keys each of them needs or may have, and what lays it out."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from choreo.courses import changes, curves, lane_change, straights
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
    "sine with dwell": (Kind(("speed",), ("lane width", "wheel angle")), straights.sine_with_dwell),
    "weave": (
        Kind(("speed", "frequency", "lateral acceleration"), ("count", "lane width")),
        straights.weave,
    ),
    "lane change": (Kind(("aside", "length"), ("radius", "turn")), changes.lane_change),
    "EN-FC head-on": (Kind(("speed",), ("turn",)), changes.head_on),
    "EN-VA cut-in": (Kind(("speed",), ("aside", "turn")), changes.cut_in),
    "EN-VA cut-out": (Kind(("speed",), ("turn",)), changes.cut_out),
    "EN-LD departure": (
        Kind(("speed", "lateral speed", "departure"), ("turn",)),
        straights.lane_departure,
    ),
    "EN-FC turning path": (Kind(("speed", "side"), ("turn",)), curves.turning_path),
    "S-bend": (Kind((), ("turn",)), curves.s_bend),
}
ANYWHERE = ("run-up", "run-out")
# What may be written for keys whose values are words, or on which sources differ.
CHOICES: Mapping[str, str] = {
    "offset read as": ", ".join(f"`{one}`" for one in lane_change.READINGS),
    "last width": "`3 m`, or 1.3 x vehicle width + 0.25 m: sources differ",
    "departure": ", ".join(f"`{one}`" for one in straights.DEPARTURES),
    "side": "`farside`, `nearside`",
}


def lay_out(name: str, sizes: Sizes) -> Layout:
    """Lay out a course of `COURSES` whose keys are known to be there. Raises CourseFault."""
    _, make = COURSES[name]
    layout = make(sizes)
    # Numbers of a scenario are floats; what is counted is in the pieces and cones.
    told = replace(sizes, laps=None, count=None)
    return replace(layout, course=replace(layout.course, sizes=told))


__all__ = ["ANYWHERE", "CHOICES", "COURSES", "CourseFault", "lay_out"]
