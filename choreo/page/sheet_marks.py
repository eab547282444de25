"""What is set and checked for a run: marks, tapes, triggers, speed gates and how the bodies meet, as tables."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations
from typing import assert_never

import numpy as np

from choreo.geometry import Path
from choreo.page.gates import gates_of
from choreo.page.markup import text
from choreo.page.sheet_pages import HEADING_MM, Block
from choreo.page.sheet_parts import row, table
from choreo.page.sheet_room import on_earth
from choreo.page.sketch import encounter_sketch
from choreo.plans.record import EncounterPlan, Plan, TriggerPlan
from choreo.report.encounters import held_words, relative_words, simulated_words, wanted_words
from choreo.report.turned import speed_words, station_words
from choreo.scenario import Scenario
from choreo.words.display import KMH_PER_MPS, degrees, metres, plain, quantity

# A sketch with its caption is so high (mm), and two stand side by side.
SKETCH_MM, BESIDE = 48.0, 2
# As long is a tape (m).
TAPE_M = 100.0

Corner = tuple[float, float]


def marks_html(scenario: Scenario, plan: Plan) -> str:
    """Give the start marks, by reference point and by front, and on earth."""
    rows = []
    for name, mover in plan.movers.items():
        start, body = mover.start, scenario.movers[name].body
        x = start.x_m + body.nose_m * math.cos(math.radians(start.heading_deg))
        y = start.y_m + body.nose_m * math.sin(math.radians(start.heading_deg))
        cells = (
            f"{plain(start.x_m)} / {plain(start.y_m)}",
            station_words(scenario, name, start.station_m),
            degrees(start.heading_deg),
            f"{plain(x)} / {plain(y)}",
        )
        rows.append(row(name, cells, 1))
    head = (
        "mover", "x / y<br>m", "station<br>m", "heading<br>deg", "its front, x / y<br>m",
        "as set, x / y<br>m",
    )  # fmt: skip
    return table(head, rows, "marks") + on_earth(scenario, plan)


def tapes_html(plan: Plan, obstacles: Mapping[str, Sequence[Corner]]) -> str:
    """Give the distances to be measured with a tape: between marks, to where movers meet, to obstacles' corners.

    obstacles: the ground's, by name, as corners in site m.
    """
    rows = []
    for one, other in combinations(plan.movers, 2):
        a, b = plan.movers[one].start, plan.movers[other].start
        dx, dy = b.x_m - a.x_m, b.y_m - a.y_m
        cells = (plain(math.hypot(dx, dy)), plain(dx), plain(dy))
        rows.append(row(f"{one} to {other}", cells, 1))
    for name, met in plan.encounters.items():
        for one in (met.of, met.with_) if met.place is not None and met.touches else ():
            a, (x, y) = plan.movers[one].start, met.place or (0.0, 0.0)
            cells = (plain(math.hypot(x - a.x_m, y - a.y_m)), plain(x - a.x_m), plain(y - a.y_m))
            rows.append(row(f"{one} to the impact point of {name}", cells, 1))
    for one, mover in plan.movers.items():
        found = _next_corner(mover.start.x_m, mover.start.y_m, obstacles) if mover.pieces else None
        if found is not None:
            name, (x, y) = found
            dx, dy = x - mover.start.x_m, y - mover.start.y_m
            cells = (plain(math.hypot(dx, dy)), plain(dx), plain(dy))
            rows.append(row(f"{one} to the next corner of {name}", cells, 1))
    if not rows:
        return ""
    head = ("between the marks of", "tape<br>m", "along x<br>m", "along y<br>m", "as measured<br>m")
    return table(head, rows, "tapes")


def _next_corner(
    x_m: float, y_m: float, obstacles: Mapping[str, Sequence[Corner]]
) -> tuple[str, Corner] | None:
    """The corner of a fixed obstacle that is nearest to a mark, where a tape reaches it."""
    near = [
        (math.hypot(x - x_m, y - y_m), name, (x, y))
        for name, corners in obstacles.items()
        for x, y in corners
    ]
    off_m, name, corner = min(near, default=(math.inf, "", (0.0, 0.0)))
    return (name, corner) if off_m <= TAPE_M else None


def triggers_html(plan: Plan, paths: Mapping[str, Path]) -> str:
    """Give the triggers with blanks for what was set and measured; empty without any."""
    rows = []
    for name, one in plan.triggers.items():
        cells = (
            f"{one.watch}: {one.condition}{f' to {one.to}' if one.to else ''}",
            quantity(one.setting, one.setting_unit),
            _place(one, paths),
            plain(one.time_s),
            plain(one.latency_s),
        )
        rows.append(row(name, cells, 2))
    head = (
        "trigger", "watches", "setting", "station (x / y)<br>m", "fires<br>s after go",
        "latency<br>s", "as set", "latency<br>measured",
    )  # fmt: skip
    return table(head, rows, "triggers") if rows else ""


def _place(one: TriggerPlan, paths: Mapping[str, Path]) -> str:
    if one.station_m is None:
        return "-"
    pose = paths[one.watch].pose(np.array([one.station_m]))
    return f"{plain(one.station_m)} ({plain(pose.x_m[0], 2)} / {plain(pose.y_m[0], 2)})"


def gates_html(scenario: Scenario, plan: Plan, paths: Mapping[str, Path]) -> str:
    """Give the places at which each mover's time and speed are checked, and what is allowed there.

    paths: by mover. What is allowed is the scenario's tolerance of its speed; without one the crew agrees on it.
    """
    allowed = {name: _allowed(scenario, name) for name in plan.movers}
    given = any(allowed.values())
    rows = []
    for name in plan.movers:
        for gate in gates_of(name, plan, paths[name], scenario.turning_radius_m(name)):
            cells = (
                plain(gate.time_s),
                station_words(scenario, name, gate.station_m),
                f"{plain(gate.x_m, 2)} / {plain(gate.y_m, 2)}",
                speed_words(scenario, name, gate.speed_mps),
                *((allowed[name] or "-",) if given else ()),
            )
            rows.append(row(f"{name}: {gate.what}", cells, 2))
    if not rows:
        return ""
    head = (
        "gate", "after go<br>s", "station<br>m", "x / y<br>m", "speed",
        *(("allowed<br>km/h",) if given else ()), "as run<br>km/h", "as run<br>s",
    )  # fmt: skip
    agreed = (
        '<p>Allowed at gates, agreed before the run: speed +/- <span class="short"></span> km/h, '
        'time +/- <span class="short"></span> s.</p>'
    )
    return table(head, rows, "gates") + ("" if given else agreed)


def _allowed(scenario: Scenario, name: str) -> str:
    """By how much a mover's speed may be off where it counts; empty where nobody says."""
    tolerance = scenario.tolerances.get(name)
    if tolerance is None or tolerance.speed_mps is None:
        return ""
    low, high = (one * KMH_PER_MPS for one in tolerance.speed_mps)
    if math.isclose(low, -high):
        return f"+/- {high:g}"
    return " / ".join(f"{one:+g}" if one else "0" for one in (low, high))


def encounters_of(scenario: Scenario, plan: Plan, paths: dict[str, Path]) -> Iterator[Block]:
    """Give what is wanted of each encounter, and how the bodies meet, with what is tolerated."""
    if not plan.encounters:
        return
    figures = [
        f"<figure>{encounter_sketch(scenario, paths, name, one)}<figcaption><b>{text(name)}</b>, "
        f"{text(_told(scenario, name, one))}</figcaption></figure>"
        for name, one in plan.encounters.items()
    ]
    for first in range(0, len(figures), BESIDE):
        pair = "".join(figures[first : first + BESIDE])
        heading = "" if first else "<h2>Encounters</h2>"
        yield Block(
            f'<section>{heading}<div class="figures">{pair}</div></section>',
            SKETCH_MM + (0.0 if first else HEADING_MM),
        )


def _told(scenario: Scenario, name: str, one: EncounterPlan) -> str:
    """What is wanted of an encounter, what is tolerated, what was simulated, and where bodies touch."""
    wanted = wanted_words(scenario, name, one)
    closing = f"closing at {plain(one.closing_mps * KMH_PER_MPS, 1)} km/h"
    return (
        f"{one.of} and {one.with_}, {plain(one.time_s)} s after go: {wanted}, tolerated +/- "
        f"{quantity(one.tolerance, one.unit)}{' (thick line)' if one.touches else ''}, simulated "
        f"{simulated_words(scenario, name, one)}; {_impact(scenario, one, wanted)}; {closing}{_slide(one)}"
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
