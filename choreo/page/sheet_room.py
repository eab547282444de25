"""What the run sheet says of room: places on earth, breaking off, keep-out zone, clearances, obstacles placed."""

from __future__ import annotations

import math
from collections.abc import Mapping

from choreo.geometry import Path
from choreo.ground import Earth, Ground
from choreo.page.markup import text
from choreo.page.sheet_parts import row, table
from choreo.page.zone_sketch import sketch_of_zone
from choreo.plans.record import MoverPlan, Plan
from choreo.plans.room_record import NoReturn, SpacePlan
from choreo.report.room import party_words, place_words, state_words
from choreo.report.zone import area_words, extent_words
from choreo.scenario import Scenario
from choreo.words.display import metres, plain

# A sheet has room for so many pairs; all are in the plan document.
MOST_PAIRS = 5
# A tenth of a millimetre in degrees of latitude.
DEGREE_DIGITS = 9


def on_earth(scenario: Scenario, plan: Plan) -> str:
    """Give the start marks in longitude and latitude; empty where the site has no anchor.

    Raises ChoreoError: site.unknown-datum.
    """
    if scenario.site is None or scenario.site.anchor is None:
        return ""
    earth = Earth(scenario.site.anchor)
    rows = []
    for name, mover in plan.movers.items():
        start = mover.start
        longitude, latitude = earth.to_earth(start.x_m, start.y_m)
        bearing = earth.bearing_deg(math.radians(start.heading_deg))
        cells = (
            f"{float(longitude):.{DEGREE_DIGITS}f}",
            f"{float(latitude):.{DEGREE_DIGITS}f}",
            plain(float(bearing), 2),
        )
        rows.append(row(name, cells))
    head = ("mover", "longitude<br>deg", "latitude<br>deg", "bearing<br>deg")
    note = f"Reference points, in {earth.datum_name}; bearings clockwise from true north."
    return table(head, rows, "earth") + f'<p class="small">{text(note)}</p>'


def runway_words(mover: MoverPlan) -> str:
    """Say how much of its path a mover needs, and what it is made of."""
    run = mover.runway
    needed_m = run.required_m or run.total_m
    after_m = needed_m - run.run_up_m - run.encounter_m
    parts = f"run-up {metres(run.run_up_m)}, encounters {metres(run.encounter_m)}"
    if run.required_m is None:
        return f"Runway {metres(needed_m)}: {parts}, run-out {metres(run.run_out_m)}."
    return (
        f"Runway required {metres(needed_m)}: {parts}, then {metres(after_m)} for the longer of its run-out "
        f"({metres(run.run_out_m)}) and a failsafe stop."
    )


def stop_words(name: str, plan: Plan) -> str:
    """Say how a mover stops when the run is broken off; empty where that isn't known."""
    stop = None if plan.space is None else plan.space.stops.get(name)
    if stop is None:
        return ""
    assumed = " (assumed: the scenario gives no failsafe)" if stop.assumed else ""
    return (
        f"Failsafe stop: {plain(stop.brake_mps2, 2)} m/s2 after {plain(stop.reaction_s)} s{assumed}, "
        f"at most {metres(stop.longest_m)} from the command to rest."
    )


def breaking_off(plan: Plan) -> str:
    """Give the point of no return of every party, with a blank for the crew's own last call."""
    space = plan.space
    if space is None or not space.no_return:
        return ""
    several = len({one.encounter for one in space.no_return}) > 1
    # What a crew does first comes first: everybody stops.
    ordered = sorted(space.no_return, key=lambda one: (one.encounter, not one.by_all))
    said = any(state_words(one, plan) for one in ordered)
    rows = [
        row(_party(one, several=several), _last_call(one, plan, said=said), 1) for one in ordered
    ]
    head = (
        "point of no return:<br>who stops", "after go<br>s", "before the<br>encounter, s",
        "way left to it<br>m", *(["or"] if said else []), "last call<br>(crew)",
    )  # fmt: skip
    note = (
        f"Up to then a stop ends with nothing touched and {metres(space.settings.abort_margin_m)} left at the "
        "encounter; later it no longer does. Counted from the moment the stop is commanded, the failsafe's reaction "
        "included: agree an earlier last call for people's and radio times."
    )
    return table(head, rows) + f'<p class="small">{text(note)}</p>'


def _party(one: NoReturn, *, several: bool) -> str:
    return f"{one.encounter}: {party_words(one)}" if several else party_words(one)


def _last_call(one: NoReturn, plan: Plan, *, said: bool) -> tuple[str, ...]:
    # Where it ends with the encounter itself, only the words say something.
    if not one.before_s:
        return ("-", "-", "-", *([state_words(one, plan)] if said else []))
    left = ", ".join(
        f"{name} {plain(way, 2)}" for name, way in one.before_m.items() if plan.movers[name].pieces
    )
    return (
        plain(one.time_s or 0.0),
        plain(one.before_s),
        left or "-",
        *([state_words(one, plan)] if said else []),
    )


def room_html(
    scenario: Scenario, plan: Plan, paths: Mapping[str, Path], ground: Ground | None
) -> str:
    """Give the keep-out zone as a sketch, least clearances and the places of obstacles that sights have moved."""
    space = plan.space
    if space is None:
        return ""
    return (
        _zone(scenario, plan, paths, ground, space)
        + _cones(space)
        + _clearances(space)
        + _placed(space)
    )


def zone_words(space: SpacePlan) -> str:
    """Say where the zone lies; empty when there is none."""
    zone = space.keep_out
    if zone is None or not zone.polygons:
        return ""
    return extent_words(zone)


def _zone(
    scenario: Scenario,
    plan: Plan,
    paths: Mapping[str, Path],
    ground: Ground | None,
    space: SpacePlan,
) -> str:
    zone = space.keep_out
    if zone is None or not zone.polygons:
        return ""
    caption = (
        f"Within {zone_words(space)}; {area_words(zone.area_m2)} (hatched). All that is swept by plan or by a stop "
        f"from any instant, widened by errors of {zone.error_m:g} m and a margin of {zone.margin_m:g} m. Lines: ways "
        "driven; crosses: start marks; rings: encounters; broken line: edge of drivable ground."
    )
    return (
        '<section class="zone-section"><h2>Keep-out zone: nobody and nothing else in it from go to rest</h2>'
        f'<figure class="whole">{sketch_of_zone(scenario, plan, paths, zone, ground)}'
        f"<figcaption>{text(caption)}</figcaption></figure></section>"
    )


def _clearances(space: SpacePlan) -> str:
    pairs = [pair for pair in space.clearances if pair.meets_s is None][:MOST_PAIRS]
    if not pairs:
        return ""
    rows = [
        row(
            f"{pair.a} / {pair.b}",
            (
                plain(pair.least_m),
                plain(pair.time_s),
                f"{plain(pair.x_m, 2)} / {plain(pair.y_m, 2)}",
            ),
            1,
        )
        for pair in pairs
    ]
    head = ("bodies apart by", "at least<br>m", "after go<br>s", "at x / y<br>m", "as run<br>m")
    return f"<section><h2>Least clearances</h2>{table(head, rows)}</section>"


def _cones(space: SpacePlan) -> str:
    """The cones to set, with a blank to tick off and one for those that were hit."""
    rows = [
        row(
            f"{one.path}: {one.name}",
            (f"{plain(one.x_m)} / {plain(one.y_m)}", one.side, plain(one.clear_m)),
            2,
        )
        for one in space.cones
    ]
    if not rows:
        return ""
    head = (
        "cone, inner edge of its base",
        "x / y<br>m",
        "side",
        "body clear<br>m",
        "set",
        "touched<br>as run",
    )
    return f"<section><h2>Cones</h2>{table(head, rows)}</section>"


def _placed(space: SpacePlan) -> str:
    lines = [
        f"{place_words(one)} {one.to} is first seen {plain(one.to_collision_s or 0.0)} s before collision."
        for one in space.sights
        if one.move_m is not None
    ]
    if not lines:
        return ""
    items = "".join(f"<li>{text(line)}</li>" for line in lines)
    return f"<section><h2>Obstacles placed for sight lines</h2><ul>{items}</ul></section>"
