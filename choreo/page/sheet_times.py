"""The run by the clock: one list of everything that happens, whoever does it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from choreo.geometry import Path
from choreo.page.gates import gates_of
from choreo.page.sheet_parts import row, table
from choreo.page.tolerances import SAME_MOMENT_S
from choreo.plans.record import Plan
from choreo.plans.room_record import NoReturn
from choreo.report.launches import launch_words
from choreo.report.turned import speed_words
from choreo.scenario import Scenario
from choreo.track.motion import motion_of
from choreo.words.display import plain, quantity
from choreo.words.records import dataclass

# A sheet has room for so many moments; all are on the page and in the plan document.
MOST_MOMENTS = 26
# Gates that the list has in other words, or that only gates are for.
OTHERWISE_TOLD = ("encounter ", "trigger ", "on the way")


@dataclass(frozen=True, slots=True)
class Moment:
    """What happens at a time (s after go), to whom; weighty: a line that a crew must not overlook.

    place: where bodies touch (site m); None: where the mover is by its reference point.
    """

    time_s: float
    who: str
    what: str
    weighty: bool = False
    place: tuple[float, float] | None = None


def last_calls(plan: Plan) -> tuple[NoReturn, ...]:
    """Give until when all together can break off, by encounter; those that end before it."""
    every = () if plan.space is None else plan.space.no_return
    return tuple(one for one in every if one.by_all and one.before_s and one.time_s is not None)


def times_html(scenario: Scenario, plan: Plan, paths: Mapping[str, Path]) -> str:
    """Give the merged time line as a table; paths: by mover."""
    moments = sorted(_moments(scenario, plan, paths), key=lambda one: one.time_s)
    rows = []
    for one in moments[:MOST_MOMENTS]:
        cells = (one.what, *_state(one, scenario, plan, paths))
        told = row(f"{plain(one.time_s)}", (one.who, *cells))
        rows.append(told.replace("<tr>", '<tr class="weighty">', 1) if one.weighty else told)
    more = len(moments) - MOST_MOMENTS
    note = f'<p class="small">{more} more moments stand on the page.</p>' if more > 0 else ""
    head = ("after go, s", "who", "what", "reference point<br>x / y, m", "speed")
    return table(head, rows, "times") + note


def _moments(scenario: Scenario, plan: Plan, paths: Mapping[str, Path]) -> Iterator[Moment]:
    for name, mover in plan.movers.items():
        if not mover.pieces:
            continue
        yield Moment(mover.launch_s, name, f"launch: {launch_words(mover, 'trigger {name}')}")
        for command in mover.commands:
            if abs(command.moves_s - mover.launch_s) > SAME_MOMENT_S:
                yield Moment(command.time_s, name, f"tell it {command.phase}")
        for gate in gates_of(name, plan, paths[name], scenario.turning_radius_m(name)):
            if not gate.what.startswith(OTHERWISE_TOLD):
                yield Moment(gate.time_s, name, gate.what)
        yield Moment(motion_of(mover).end_s, name, "at rest")
    for name, trigger in plan.triggers.items():
        setting = quantity(trigger.setting, trigger.setting_unit)
        acts = f" for {', '.join(trigger.acts_on)}" if trigger.acts_on else ""
        yield Moment(trigger.time_s, trigger.watch, f"trigger {name} fires at {setting}{acts}")
    for one in last_calls(plan):
        yield Moment(one.time_s or 0.0, "all", f"LAST CALL before {one.encounter}", True)
    for name, met in plan.encounters.items():
        what = name if met.kind in name else f"{met.kind} {name}"
        point = ", impact point" if met.touches and met.place else ""
        at = met.place if met.touches else None
        yield Moment(met.time_s, f"{met.of}, {met.with_}", f"{what}{point}", True, at)


def _state(
    one: Moment, scenario: Scenario, plan: Plan, paths: Mapping[str, Path]
) -> tuple[str, str]:
    """Where it happens, or else a mover's reference point is then, and how fast; of an encounter its first mover."""
    name = one.who.split(", ")[0]
    if name not in plan.movers or not plan.movers[name].pieces:
        return "-", "-"
    state = motion_of(plan.movers[name]).state(one.time_s)
    pose = paths[name].pose(np.array([state.station_m]))
    x_m, y_m = one.place or (float(pose.x_m[0]), float(pose.y_m[0]))
    where = f"{plain(x_m, 2)} / {plain(y_m, 2)}"
    return where, speed_words(scenario, name, state.speed_mps)
