"""What is staked out for a plan, and the words for it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Final

import numpy as np

from choreo.export.marks import Mark, StakePoint, Tape
from choreo.geometry import Path
from choreo.ground.earth import Earth
from choreo.ground.grid import Grid
from choreo.plans.record import Plan
from choreo.report.content import Content, caution_notes, headline_of
from choreo.report.crew import distances_table, programme_table
from choreo.report.room import failed_checks
from choreo.report.sections import Notes, Section, Table
from choreo.words.display import degrees, plain
from choreo.words.kinds import PointName

# What a place is for, as lists and maps show it.
START, STANDS, TRIGGER, ENCOUNTER = "start mark", "stands", "trigger", "encounter"
FRONT_AT_START, ON_THE_WAY = "front at start", "on the way"
CONE: Final = "cone"
# What a tape is laid between; triggers and encounters are places in passing.
TAPED = (START, STANDS)
DEGREE_DIGITS = 9


def places_of(plan: Plan, paths: Mapping[str, Path]) -> tuple[StakePoint, ...]:
    """Give the places of a plan: where movers start or stand, pass triggers, meet, begin to brake, pass named pieces.

    paths: by mover. The heading at a trigger's place is that of the mover that passes it.
    """
    places = [
        StakePoint(
            name,
            START if mover.pieces else STANDS,
            mover.start.x_m,
            mover.start.y_m,
            mover.start.heading_deg,
        )
        for name, mover in plan.movers.items()
    ]
    for name, trigger in plan.triggers.items():
        if trigger.station_m is not None:
            pose = paths[trigger.watch].pose(np.array([trigger.station_m]))
            turned_deg = 180.0 if plan.movers[trigger.watch].backwards else 0.0
            heading_deg = float(np.degrees(pose.heading_rad[0])) + turned_deg
            x_m, y_m = float(pose.x_m[0]), float(pose.y_m[0])
            places.append(StakePoint(name, f"{TRIGGER}, {trigger.watch}", x_m, y_m, heading_deg))
    for name, encounter in plan.encounters.items():
        if encounter.place is not None:
            what = f"{ENCOUNTER}, {encounter.of} and {encounter.with_}"
            point: PointName = "impact point" if encounter.touches else "front"
            places.append(StakePoint(name, what, *encounter.place, None, point))
    if plan.space is not None:
        places += [
            StakePoint(
                f"{one.path}: {one.name}", f"{CONE}, {one.side}", one.x_m, one.y_m, None, CONE
            )
            for one in plan.space.cones
        ]
    places += _on_the_way(plan)
    return tuple(_wrapped(place) for place in places)


def _on_the_way(plan: Plan) -> Iterator[StakePoint]:
    """Give the places of movers that aren't there already as start marks, triggers and encounters."""
    if plan.crew is None:
        return
    for name, programme in plan.crew.programmes.items():
        for place in programme.places:
            at_trigger = place.name in {f"{TRIGGER} {one}" for one in plan.triggers}
            touching = place.point == "impact point"
            front_of_gap = any(
                not one.touches
                and one.of == name
                and place.point == "front"
                and place.time_s == one.time_s
                for one in plan.encounters.values()
            )
            if not (at_trigger or touching or front_of_gap):
                what = FRONT_AT_START if place.name == START else ON_THE_WAY
                yield StakePoint(
                    f"{name}: {place.name}", what, place.x_m, place.y_m, None, place.point
                )


def _wrapped(place: StakePoint) -> StakePoint:
    """The heading within (-180, 180]: paths count full turns on."""
    heading_deg = place.heading_deg
    if heading_deg is None:
        return place
    return replace(place, heading_deg=180 - (180 - heading_deg) % 360)


def marks_content(
    plan: Plan,
    marks: tuple[Mark, ...],
    tapes: tuple[Tape, ...],
    earth: Earth | None,
    grid: Grid | None,
) -> Content:
    """Choose what to say of the marks of a plan: first what forbids the run, then where they are."""
    sections: list[Section] = [] if plan.space is None else failed_checks(plan.space)
    sections.append(_on_site(marks))
    if earth is not None:
        sections.append(_on_earth(marks, earth, grid))
    if tapes:
        rows = tuple((f"{one.first} - {one.second}", plain(one.distance_m)) for one in tapes)
        sections.append(Table("by tape, on the ground", ("between", "m"), rows, frozenset({1})))
    if plan.crew is not None:
        sections += distances_table(plan.crew)
        sections += [programme_table(*one) for one in plan.crew.programmes.items()]
    sections.append(Notes("about these places", tuple(_about(earth, grid))))
    sections.append(caution_notes())
    summary = (
        "Places to stake out, each with the point of the mover that is meant: its reference point is what follows "
        "the path."
    )
    if plan.fails_checks:
        summary = "Do not stake this out: checks of its room failed."
    return Content(plan.verdict, headline_of(plan), plan.title, summary, tuple(sections))


def _on_site(marks: tuple[Mark, ...]) -> Table:
    rows = tuple(
        (
            mark.place.name,
            mark.place.what,
            mark.place.point,
            plain(mark.place.x_m),
            plain(mark.place.y_m),
            "" if mark.place.heading_deg is None else degrees(mark.place.heading_deg),
        )
        for mark in marks
    )
    header = ("place", "what", "point", "x\nm", "y\nm", "heading\ndeg")
    return Table("site frame", header, rows, frozenset({3, 4, 5}))


def _on_earth(marks: tuple[Mark, ...], earth: Earth, grid: Grid | None) -> Table:
    rows = tuple(
        (
            mark.place.name,
            _told(mark.longitude_deg, DEGREE_DIGITS),
            _told(mark.latitude_deg, DEGREE_DIGITS),
            _told(mark.bearing_deg, 2),
            *(() if grid is None else (_told(mark.easting, 3), _told(mark.northing, 3))),
        )
        for mark in marks
    )
    header: tuple[str, ...] = ("place", "longitude\ndeg", "latitude\ndeg", "bearing\ndeg")
    title = f"on earth ({earth.datum_name}"
    if grid is not None:
        header = (*header, *(f"{axis}\n{grid.unit}" for axis in grid.axes))
        title += f"; grid {grid.code}"
    return Table(f"{title})", header, rows, frozenset(range(1, len(header))))


def _told(value: float | None, digits: int) -> str:
    return "" if value is None else plain(value, digits)


def _about(earth: Earth | None, grid: Grid | None) -> list[str]:
    if earth is None:
        return [
            "The site has no anchor: longitude and latitude are not known. Lay the site frame out by tape."
        ]
    anchor = earth.anchor
    lines = [
        f"The site frame's origin is at longitude {anchor.longitude_deg:.9f}, latitude "
        f"{anchor.latitude_deg:.9f} deg, its x axis bears {anchor.bearing_deg:.4f} deg, the ground lies "
        f"{anchor.height_m:.1f} m over the ellipsoid of {earth.datum_name}.",
        "Bearings are from true north at the origin, clockwise; a compass needs the declination of the day.",
    ]
    if grid is not None:
        lines += _about_grid(grid)
    return lines


def _about_grid(grid: Grid) -> list[str]:
    side = "east" if grid.convergence_deg >= 0 else "west"
    lines = [
        f"{grid.code} is {grid.name}. Between two points of it lie {1000 * grid.grid_ratio:.3f} m of the grid for "
        "1000 m on the ground here.",
        f"Grid north is {abs(grid.convergence_deg):.4f} deg {side} of true north at the origin.",
    ]
    if grid.accuracy_m is None:
        lines.append(
            f"CAUTION: how far the grid's datum is from {grid.anchor.datum} is not known exactly."
        )
    elif grid.accuracy_m > 0:
        lines.append(
            f"CAUTION: the grid has another datum than the anchor ({grid.anchor.datum}): eastings and northings "
            f"are good to {grid.accuracy_m:g} m only, all shifted alike ({grid.way_name}). Give the anchor in the "
            "grid's own datum."
        )
    if not grid.best_way:
        lines.append(
            "A more exact way between the two is known, but needs corrections not read here."
        )
    return lines
