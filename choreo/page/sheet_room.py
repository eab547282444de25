"""What the run sheet says of room: places on earth, breaking off, the drawing with the zone, clearances, obstacles."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from choreo.geometry import Path
from choreo.ground import Earth, Ground
from choreo.page.markup import text, told
from choreo.page.sheet_pages import Block, block
from choreo.page.sheet_parts import BLANK, row, table
from choreo.page.zone_sketch import sketch_of_zone
from choreo.plans.record import MoverPlan, Plan
from choreo.plans.room_record import KeepOut, NoReturn, SpacePlan
from choreo.report.room import party_words, place_words, state_words
from choreo.report.zone import area_words, extent_of, extent_words
from choreo.scenario import Scenario
from choreo.words.display import metres, plain

# A sheet has room for so many pairs; all are in the plan document.
MOST_PAIRS = 5
# A tenth of a millimetre in degrees of latitude.
DEGREE_DIGITS = 9
# A centimetre, for corners that are rounded to 0.1 m.
CORNER_DIGITS = 7


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


def breaking_off(plan: Plan) -> Block:
    """Give who breaks off how and until when, large, with a blank for the crew's own last call."""
    rules = (
        "<p>Anyone may call <b>STOP</b> at any time: every mover then stops by its independent means. Stop when "
        "a launch or a trigger does not come as listed, a speed gate is missed by more than allowed, or anybody or "
        "anything enters the area.</p>"
    )
    space = plan.space
    if space is None or not space.no_return:
        return Block(f'<section class="abort"><h2>Break off</h2>{rules}</section>', 32.0)
    several = len({one.encounter for one in space.no_return}) > 1
    # What a crew does first comes first: everybody stops.
    ordered = sorted(space.no_return, key=lambda one: (one.encounter, not one.by_all))
    rows = [_last_call(one, plan, _party(one, several=several)) for one in ordered]
    head = (
        "last call: who stops", "after go<br>s", "before the<br>encounter, s", "way left to it<br>m",
        "agreed by<br>the crew",
    )  # fmt: skip
    note = (
        f"Point of no return, from the command on, reaction included: up to then nothing is touched and "
        f"{metres(space.settings.abort_margin_m)} are left at the encounter. Agree an earlier call for people and "
        "radio."
    )
    body = f'{rules}{table(head, rows, "calls")}<p class="small">{text(note)}</p>'
    return Block(
        f'<section class="abort"><h2>Break off</h2>{body}</section>',
        50.0 + 5.6 * len(rows) + 5.0 * sum("<br>" in one for one in rows),
    )


def _party(one: NoReturn, *, several: bool) -> str:
    return f"{one.encounter}: {party_words(one)}" if several else party_words(one)


def _last_call(one: NoReturn, plan: Plan, who: str) -> str:
    """A row: the call with its figures, what else is to be said of it below them; words alone take their place."""
    words = state_words(one, plan)
    # Where it ends with the encounter itself, only the words say something.
    if not one.before_s:
        told = f'<td class="words" colspan="3">{text(words or "-")}</td>'
        return f'<tr><th scope="row">{text(who)}</th>{told}{BLANK}</tr>'
    left = ", ".join(
        f"{name} {plain(way, 2)}" for name, way in one.before_m.items() if plan.movers[name].pieces
    )
    cells = (plain(one.time_s or 0.0), plain(one.before_s), left or "-")
    if not words:
        return row(who, cells, 1)
    figures = "".join(f'<td class="number">{text(cell)}</td>' for cell in cells[:2])
    return (
        f'<tr><th scope="row">{text(who)}</th>{figures}'
        f'<td class="words">{text(cells[2])}<br>{text(words)}</td>{BLANK}</tr>'
    )


def room_of(plan: Plan) -> Iterator[Block]:
    """Give banks, who is steered aside, cones to set, least clearances, and obstacles that sights have moved."""
    yield block("Banked curves", _warned(plan, "problem.bank"))
    yield block("Steered to and fro", _warned(plan, "space.aside-counted"))
    if plan.space is not None:
        yield block("Obstacles placed for sight lines", _placed(plan.space))
        yield block("Cones", _cones(plan.space))
        yield block("Least clearances", _clearances(plan.space))


def _warned(plan: Plan, code: str) -> str:
    """What is told of the plan under a code, with its advice."""
    found = [f"{one.text}. {one.advice}".strip() for one in plan.warnings if one.code == code]
    return "".join(f'<p class="small">{told(one)}</p>' for one in found)


def zone_words(zone: KeepOut | None) -> str:
    """Say where the zone lies; empty when there is none."""
    return "" if zone is None or not zone.polygons else extent_words(zone)


def drawing_of(
    scenario: Scenario, plan: Plan, paths: Mapping[str, Path], ground: Ground | None
) -> tuple[str, float]:
    """Give the drawing with everything and about how high it is (mm); empty where no zone is known."""
    zone = None if plan.space is None else plan.space.keep_out
    if zone is None or not zone.polygons:
        return "", 0.0
    drawn, high_mm = sketch_of_zone(scenario, plan, paths, zone, ground)
    caption = (
        f"Outer line: keep-out zone, nobody and nothing else in it from go to rest: {zone_words(zone)}; "
        f"{area_words(zone.area_m2)}, errors of {zone.error_m:g} m and {zone.margin_m:g} m of margin in it."
    )
    if ground is not None:
        caption += " Chain line: edge of the ground."
    figure = f'<figure class="whole">{drawn}<figcaption>{text(caption)}</figcaption></figure>'
    return f"<section>{figure}</section>", high_mm + 10.0


def corners_html(scenario: Scenario, plan: Plan) -> str:
    """Give the corners of the box round the keep-out zone, to be marked on the ground; on earth where that is known.

    Raises ChoreoError: site.unknown-datum.
    """
    zone = None if plan.space is None else plan.space.keep_out
    if zone is None or not zone.polygons:
        return ""
    box = extent_of(zone)
    anchor = None if scenario.site is None else scenario.site.anchor
    earth = None if anchor is None else Earth(anchor)
    corners = (
        (box.x0_m, box.y0_m),
        (box.x1_m, box.y0_m),
        (box.x1_m, box.y1_m),
        (box.x0_m, box.y1_m),
    )
    rows = []
    for number, (x, y) in enumerate(corners, 1):
        cells = [f"{x:.1f} / {y:.1f}"]
        if earth is not None:
            cells += [f"{float(one):.{CORNER_DIGITS}f}" for one in earth.to_earth(x, y)]
        rows.append(row(f"{number}", cells, 1))
    places = ("longitude<br>deg", "latitude<br>deg") if earth is not None else ()
    return table(("corner", "x / y<br>m", *places, "marked"), rows, "corners")


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
    return table(head, rows)


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
    return table(head, rows)


def _placed(space: SpacePlan) -> str:
    lines = [
        f"{place_words(one)} {one.to} is first seen {plain(one.to_collision_s or 0.0)} s before collision."
        for one in space.sights
        if one.move_m is not None
    ]
    if not lines:
        return ""
    items = "".join(f"<li>{told(line)}</li>" for line in lines)
    return f"<ul>{items}</ul>"
