"""What the page draws of the ground and of the room that a plan needs there, as plain data."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Any

from choreo.ground import Area, Ground
from choreo.ground.outlines import Outline, outline_of
from choreo.plans.record import Plan
from choreo.plans.room_record import NoReturn, SightPlan
from choreo.scenario import Scenario

Corner = tuple[float, float]
Rings = list[list[list[float]]]
# For the script: all movers together; digits of coordinates in m.
ALL = -1
MILLIMETRE = 3
# On a page a zone may be drawn this much too large: at the scale of a whole run, a pixel is more.
DRAWN_ZONE_M = 0.05
# A ring with fewer corners costs the page nothing.
FEW_CORNERS = 120


def ground_data(ground: Ground | None) -> dict[str, Any] | None:
    """Give a ground's areas and obstacles as polygons in site m, with places for their names; None without one."""
    if ground is None:
        return None
    named = len(ground.areas) > 1
    return {
        "areas": [
            _drawn(_area_words(area) if named else "", outline_of(area.polygon))
            for area in ground.areas
        ],
        "obstacles": [
            _drawn(name, outline_of(polygon)) for name, polygon in ground.obstacles.items()
        ],
    }


def _area_words(area: Area) -> str:
    return area.name if area.friction is None else f"{area.name}, friction {area.friction:g}"


def _drawn(words: str, outline: Outline) -> dict[str, Any]:
    x_m, y_m = outline.inside_m
    return {"words": words, "at": [_round(x_m), _round(y_m)], "polygons": polygons_of(outline)}


def polygons_of(outline: Outline) -> list[Rings]:
    """Give an area's polygons as open rings in m, to a millimetre, each polygon's outer ring first."""
    return [[ring_of(ring) for ring in rings] for rings in outline.polygons]


def ring_of(corners: Iterable[Sequence[float]]) -> list[list[float]]:
    """Give a ring's corners (x, y) in m, to a millimetre, without the repeated last one."""
    ring = [[_round(corner[0]), _round(corner[1])] for corner in corners]
    return ring[:-1] if len(ring) > 1 and ring[0] == ring[-1] else ring


def thinned(ring: Sequence[Corner]) -> list[Corner]:
    """Give a ring with fewer corners that leaves nothing out; what it adds is at most DRAWN_ZONE_M wide.

    ring: (x, y) in m with the inside to the left, as a zone's outer rings and holes both have it. Short rings stay.
    """
    corners = list(ring[:-1] if ring[0] == ring[-1] else ring)
    if len(corners) <= FEW_CORNERS:
        return corners
    kept: list[Corner] = []
    at, cut = 0, False
    while at < len(corners):
        before = kept[-1] if kept else corners[-1]
        here, after = corners[at], corners[(at + 1) % len(corners)]
        # An edge between two bends to the left: its neighbours, drawn on until they meet, go round it outside.
        if (
            not cut
            and at + 2 < len(corners)
            and (met := _met(before, here, after, corners[at + 2]))
        ):
            kept.append(met)
            at += 2
            continue
        # A bend to the right: without the corner there is more inside. Never two in a row, or they would add up.
        bend = _left_of(before, after, here)
        cut = not cut and kept != [] and at + 1 < len(corners) and 0.0 <= bend <= DRAWN_ZONE_M
        if not cut:
            kept.append(here)
        at += 1
    return kept


def _met(a: Corner, b: Corner, c: Corner, d: Corner) -> Corner | None:
    """Where a-b and d-c meet beyond b and c, at most DRAWN_ZONE_M off b-c; None where they don't."""
    ux, uy, vx, vy = b[0] - a[0], b[1] - a[1], d[0] - c[0], d[1] - c[1]
    cross = ux * vy - uy * vx
    if _left_of(a, b, c) <= 0.0 or _left_of(b, c, d) <= 0.0 or cross <= 0.0:
        return None
    share = ((c[0] - a[0]) * vy - (c[1] - a[1]) * vx) / cross
    met = (a[0] + share * ux, a[1] + share * uy)
    return met if -DRAWN_ZONE_M <= _left_of(b, c, met) <= 0.0 else None


def _left_of(a: Corner, b: Corner, point: Corner) -> float:
    """How far, in m, a point lies to the left of the line from a to b."""
    ux, uy = b[0] - a[0], b[1] - a[1]
    length = math.hypot(ux, uy)
    return (ux * (point[1] - a[1]) - uy * (point[0] - a[0])) / length if length else 0.0


def space_data(scenario: Scenario, plan: Plan, names: Sequence[str]) -> dict[str, Any] | None:
    """Give zone, points of no return, nearest pair and sight lines; None where space was not looked at.

    names: of the movers, in the page's order; movers are given by their place in it, all together by -1.
    """
    space = plan.space
    if space is None:
        return None
    zone = () if space.keep_out is None else space.keep_out.polygons
    apart = [pair for pair in space.clearances if pair.meets_s is None]
    nearest = min(apart, key=lambda pair: pair.least_m, default=None)
    return {
        "zone": [[ring_of(thinned(ring)) for ring in rings] for rings in zone],
        "noReturn": [_no_return(one, plan, names) for one in space.no_return],
        "nearest": None
        if nearest is None
        else {
            "a": names.index(nearest.a),
            "b": names.index(nearest.b),
            "least": _round(nearest.least_m, 4),
            "t": _round(nearest.time_s, 6),
            "at": [_round(nearest.x_m), _round(nearest.y_m)],
        },
        "sights": [_sight(one, scenario, names) for one in space.sights],
        "cones": [
            {"at": [_round(one.x_m), _round(one.y_m)], "touched": one.clear_m < 0.0}
            for one in space.cones
        ],
        "lanes": _lanes(scenario),
    }


def _lanes(scenario: Scenario) -> list[list[list[float]]]:
    """The edges of the lanes of courses that are driven, as open chains in site m."""
    driven = {mover.path for mover in scenario.movers.values()}
    return [
        [[_round(value) for value in spec.on_site(*point)] for point in bound]
        for name, spec in scenario.paths.items()
        if spec.course is not None and name in driven
        for bound in spec.course.bounds
    ]


def _no_return(one: NoReturn, plan: Plan, names: Sequence[str]) -> dict[str, Any]:
    encounter = plan.encounters[one.encounter]
    # Where it ends with the encounter itself there is no point of no return to mark.
    ends = one.time_s is not None and one.before_s is not None and one.before_s > 0.0
    return {
        "encounter": one.encounter,
        "t": _round(encounter.time_s, 6),
        "pair": [names.index(encounter.of), names.index(encounter.with_)],
        "who": ALL if one.by_all else names.index(one.who),
        "until": _round(one.time_s or 0.0, 6) if ends else None,
        "windows": [[_round(start, 6), _round(end, 6)] for start, end in one.windows],
    }


def _sight(one: SightPlan, scenario: Scenario, names: Sequence[str]) -> dict[str, Any]:
    asked = scenario.sights.get(one.name)
    body = scenario.movers[one.from_].body
    own = (asked.sensor_m if asked is not None else None) or (body.nose_m, 0.0)
    eye = (body.own(own[0]), body.own(own[1]))
    return {
        "name": one.name,
        "from": names.index(one.from_),
        "to": names.index(one.to),
        "eye": [_round(eye[0]), _round(eye[1])],
        "first": None if one.first_s is None else _round(one.first_s, 6),
        "episodes": [[_round(start, 6), _round(end, 6)] for start, end in one.episodes],
    }


def _round(value: float, digits: int = MILLIMETRE) -> float:
    rounded = round(float(value), digits)
    return 0.0 if rounded == 0 else rounded
