"""The run sheet: what a crew needs on paper to stage one run and to write down how it went."""

from __future__ import annotations

import math
from collections.abc import Mapping
from itertools import combinations
from typing import assert_never

import numpy as np

from choreo.geometry import Path
from choreo.ground import Ground
from choreo.page.gates import gates_of
from choreo.page.markup import failed_html, filled, text
from choreo.page.sheet_crew import back_html, bumpers_html, places_html, programme_html
from choreo.page.sheet_parts import row, table
from choreo.page.sheet_room import (
    breaking_off,
    on_earth,
    room_html,
    runway_words,
    stop_words,
    zone_words,
)
from choreo.page.sheet_rules import rules_html
from choreo.page.sketch import encounter_sketch
from choreo.plans.record import EncounterPlan, MoverPlan, Plan, TriggerPlan
from choreo.report.content import Content
from choreo.report.encounters import held_words, relative_words, simulated_words, wanted_words
from choreo.report.launches import in_step_words, launch_words
from choreo.scenario import Scenario
from choreo.words.caution import CAUTIONS
from choreo.words.display import KMH_PER_MPS, degrees, kmh, metres, plain, quantity, seconds

DECIDE = '<span class="box"></span> GO <span class="box"></span> NO-GO &nbsp; decided by <span class="line"></span>'
NO_GO = "NO-GO: checks of this plan have failed."

# A launch within this time after go (s) is at go.
FIRST_S = 1e-3
# The bearing of an x axis that points east.
EAST_DEG = 90.0


def sheet_html(
    scenario: Scenario,
    plan: Plan,
    paths: Mapping[str, Path],
    content: Content,
    ground: Ground | None,
) -> str:
    """Lay the run sheet of a feasible plan out as one element.

    paths: by mover. ground: None where the site draws none. Figures are the plan's; boxes and blanks are the crew's.
    """
    return filled(
        "sheet.html",
        title=text(plan.title),
        summary=text(content.summary),
        fingerprint=text(plan.fingerprint),
        files=text(", ".join(_bare(file) for file in scenario.source_files) or "-"),
        frame=_frame(scenario),
        site=_site(scenario),
        times=_times(plan),
        failed=failed_html(content),
        checks=_checks(scenario, plan),
        rules=rules_html(scenario),
        decide=NO_GO if plan.fails_checks else DECIDE,
        marks=_marks(scenario, plan) + on_earth(scenario, plan),
        tapes=_tapes(plan) + bumpers_html(plan),
        triggers=_triggers(plan, paths),
        movers="".join(_mover(name, plan, paths[name]) for name in plan.movers),
        encounters=places_html(plan) + _encounters(scenario, plan, dict(paths)),
        room=room_html(scenario, plan, paths, ground),
        abort=breaking_off(plan),
        cautions="".join(f"<p>{text(line)}</p>" for line in CAUTIONS),
    )


def _site(scenario: Scenario) -> str:
    if scenario.site is None:
        return "none named"
    return text(scenario.site.title or _bare(scenario.site.file))


def _times(plan: Plan) -> str:
    """What times count from: somebody may wait, or already roll, at go."""
    launches = [mover.launch_s for mover in plan.movers.values() if mover.pieces]
    first_s = min(launches, default=0.0)
    if first_s < FIRST_S:
        return "from go, the first launch"
    return f"from go; the first launch is {seconds(first_s)} later"


def _frame(scenario: Scenario) -> str:
    anchor = None if scenario.site is None else scenario.site.anchor
    if anchor is None or anchor.bearing_deg == EAST_DEG:
        return "x east, y north"
    return f"x bears {anchor.bearing_deg:g} deg (clockwise from north), y to its left"


def _bare(file: str) -> str:
    return file.replace("\\", "/").rsplit("/", 1)[-1]


def _checks(scenario: Scenario, plan: Plan) -> str:
    moving = {
        n: mover.runway.required_m or mover.runway.total_m
        for n, mover in plan.movers.items()
        if mover.pieces
    }
    zone = "" if plan.space is None else zone_words(plan.space)
    lines = [
        "Site rules read out; the person who says go and the person who may stop the run are named",
        f"Plan on this sheet is {plan.fingerprint}; the scenario file is unchanged (choreo check)",
        *(
            f"Independent stop of {name} tested today; its runway clear for {metres(length)} from its mark"
            for name, length in moving.items()
        ),
        "Start marks measured and written down below",
        *(
            f"Trigger {name} set to {quantity(one.setting, one.setting_unit)} and its latency measured "
            f"({seconds(one.latency_s)} in the plan)"
            for name, one in plan.triggers.items()
        ),
        f"Keep-out zone clear of people and everything else ({zone}); everybody accounted for"
        if zone
        else "Nobody and nothing else inside the area; everybody accounted for",
        "Radio check; recorders running; clocks agree",
        "Surface and weather are as the site rules ask"
        if scenario.rules is None
        else "Surface, weather and vehicle are as the rules below ask",
    ]
    return "".join(f'<li><span class="box"></span>{text(line)}</li>' for line in lines)


def _launch(mover: MoverPlan) -> str:
    return launch_words(mover, "by trigger {name}, {when} after go")


def _marks(scenario: Scenario, plan: Plan) -> str:
    rows = []
    for name, mover in plan.movers.items():
        start, body = mover.start, scenario.movers[name].body
        x = start.x_m + body.nose_m * math.cos(math.radians(start.heading_deg))
        y = start.y_m + body.nose_m * math.sin(math.radians(start.heading_deg))
        cells = (
            plain(start.x_m), plain(start.y_m), plain(start.station_m), degrees(start.heading_deg),
            f"{plain(body.nose_m, 2)} ahead", f"{plain(x)} / {plain(y)}", _launch(mover),
        )  # fmt: skip
        rows.append(row(name, cells, 2))
    head = (
        "mover", "x<br>m", "y<br>m", "station<br>m", "heading<br>deg", "its front<br>m",
        "front at x / y<br>m", "launch", "as set x<br>m", "as set y<br>m",
    )  # fmt: skip
    return table(head, rows, "marks")


def _tapes(plan: Plan) -> str:
    rows = []
    for one, other in combinations(plan.movers, 2):
        a, b = plan.movers[one].start, plan.movers[other].start
        dx, dy = b.x_m - a.x_m, b.y_m - a.y_m
        cells = (plain(math.hypot(dx, dy)), plain(dx), plain(dy))
        rows.append(row(f"{one} to {other}", cells, 1))
    if not rows:
        return ""
    head = ("between the marks of", "tape<br>m", "along x<br>m", "along y<br>m", "as measured<br>m")
    return "<section><h2>Tape distances between start marks</h2>" + table(head, rows) + "</section>"


def _triggers(plan: Plan, paths: Mapping[str, Path]) -> str:
    if not plan.triggers:
        return ""
    rows = []
    for name, one in plan.triggers.items():
        cells = (
            f"{one.watch}: {one.condition}{f' to {one.to}' if one.to else ''}",
            quantity(one.setting, one.setting_unit),
            _place(one, paths),
            plain(one.time_s),
            ", ".join(one.acts_on) or "nobody",
            plain(one.latency_s),
        )
        rows.append(row(name, cells, 2))
    head = (
        "trigger", "watches", "setting", "station (x / y)<br>m", "fires<br>s after go", "acts on",
        "latency<br>s", "as set", "latency<br>measured",
    )  # fmt: skip
    return "<section><h2>Triggers</h2>" + table(head, rows, "wide") + "</section>"


def _place(one: TriggerPlan, paths: Mapping[str, Path]) -> str:
    if one.station_m is None:
        return "-"
    pose = paths[one.watch].pose(np.array([one.station_m]))
    return f"{plain(one.station_m)} ({plain(pose.x_m[0])} / {plain(pose.y_m[0])})"


def _mover(name: str, plan: Plan, path: Path) -> str:
    mover = plan.movers[name]
    start = mover.start
    where = (
        f"Mark x {metres(start.x_m)}, y {metres(start.y_m)}, station {metres(start.station_m)}, "
        f"heading {degrees(start.heading_deg)} deg."
    )
    if not mover.pieces:
        stands = f"<p>{text(where)} Stands for the whole run.</p>"
        return f'<section class="mover"><h2>{text(name)}</h2>{stands}</section>'
    told = "".join(
        f" Tell it {one.phase} at {seconds(one.time_s)}: it moves at {seconds(one.moves_s)}."
        for one in mover.commands
    )
    told += in_step_words(mover)
    room = f"Launch {_launch(mover)}.{told} {runway_words(mover)} {stop_words(name, plan)}"
    rows = [
        row(
            gate.what,
            (
                plain(gate.time_s),
                plain(gate.station_m),
                f"{plain(gate.x_m)} / {plain(gate.y_m)}",
                kmh(gate.speed_mps),
            ),
            3,
        )
        for gate in gates_of(name, plan, path)
    ]
    head = (
        "speed gate", "after go<br>s", "station<br>m", "x / y<br>m", "speed", "allowed<br>+/- km/h",
        "as run<br>km/h", "as run<br>s",
    )  # fmt: skip
    return (
        f'<section class="mover"><h2>{text(name)}</h2><p>{text(where)} {text(room)}</p>'
        + programme_html(name, plan)
        + back_html(name, plan)
        + table(head, rows, "gates")
        + "</section>"
    )


def _encounters(scenario: Scenario, plan: Plan, paths: dict[str, Path]) -> str:
    if not plan.encounters:
        return ""
    wanted = {name: wanted_words(scenario, name, one) for name, one in plan.encounters.items()}
    rows = []
    for name, one in plan.encounters.items():
        cells = (
            f"{one.of} / {one.with_}",
            plain(one.time_s),
            wanted[name],
            f"+/- {quantity(one.tolerance, one.unit)}",
            simulated_words(scenario, name, one),
            plain(one.closing_mps * KMH_PER_MPS, 1),
        )
        rows.append(row(name, cells, 2))
    head = (
        "encounter", "of / with", "after go<br>s", "wanted", "tolerance", "simulated",
        "closing<br>km/h", "as run", "in?",
    )  # fmt: skip
    figures = "".join(
        f"<figure>{encounter_sketch(scenario, paths, name, one)}<figcaption><b>{text(name)}</b>: "
        f"{text(_impact(scenario, one, wanted[name]))}{text(_slide(one))}</figcaption></figure>"
        for name, one in plan.encounters.items()
    )
    return (
        "<section><h2>Encounters</h2>"
        + table(head, rows, "wide")
        + f'</section><div class="figures">{figures}</div>'
    )


def _slide(one: EncounterPlan) -> str:
    words = relative_words(one)
    return "" if words is None else f"; {words}"


def _impact(scenario: Scenario, one: EncounterPlan, wanted: str) -> str:
    wanted_m = one.wanted[0]
    match one.measure:
        case "overlap":
            return _front_impact(scenario, one.of, wanted_m)
        case "side":
            body = scenario.movers[one.of].body
            ahead_m = body.length_m - wanted_m if body.backwards else wanted_m
            return f"impact {metres(ahead_m)} ahead of the rear of {one.of}"
        case "distance" | "time gap" | "time to collision" | "time":
            held = held_words(one)
            drawn = f"{one.kind}, {wanted}, drawn at that moment"
            return drawn if held is None else f"{drawn}; {held}"
        case _:
            assert_never(one.measure)


def _front_impact(scenario: Scenario, of: str, wanted_m: float) -> str:
    body = scenario.movers[of].body
    wanted_m = body.own(wanted_m)
    left_m = body.own(body.offset_of_overlap(1.0)) - wanted_m
    if round(wanted_m, 3) == 0:
        where = "on the middle"
    else:
        where = f"{metres(abs(wanted_m))} {'left' if wanted_m > 0 else 'right'} of the middle"
    return f"impact {where} of {of}'s {body.leads}, {metres(left_m)} from its left edge"
