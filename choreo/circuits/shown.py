"""A circuit's page, on which every kind of lap plays, and its sheet with the sequence by the clock."""

from __future__ import annotations

from dataclasses import replace

from choreo.circuits.lap import Lap
from choreo.circuits.planning import PlannedCircuit
from choreo.circuits.told import content_of_circuit
from choreo.page import Planned, Shown, campaign_page, campaign_sheets


def page_of_circuit(plan: PlannedCircuit) -> str:
    """Write the page of a circuit as one HTML file."""
    shown = [_shown(plan, name, lap) for name, lap in _named(plan)]
    about = plan.circuit.base.about
    content = content_of_circuit(plan, full=True)
    return campaign_page(content, about, shown, "Kinds of lap", opens=True)


def sheet_of_circuit(plan: PlannedCircuit) -> str:
    """Write the sheet of a circuit: the sequence by the clock, then the run sheet of every kind of lap."""
    laps = [_planned(name, lap) for name, lap in _named(plan)]
    return campaign_sheets(content_of_circuit(plan, full=True), laps)


def _named(plan: PlannedCircuit) -> list[tuple[str, Lap]]:
    return [(key.name, lap) for key, lap in plan.laps.items()]


def _planned(name: str, lap: Lap) -> Planned:
    answer = lap.answer
    titled = replace(answer.plan, title=f"lap: {name}")
    return Planned(answer.scenario, titled, answer.paths, answer.ground)


def _shown(plan: PlannedCircuit, name: str, lap: Lap) -> Shown:
    count = sum(one.count for one in plan.driven if one.lap.name == name)
    space = lap.answer.plan.space
    verdict = "not clear" if space is not None and not space.clear else "feasible"
    figures: dict[str, float | str] = {
        "time, s": lap.lasts_s,
        "length, m": lap.length_m,
        "times driven": float(count),
    }
    times = "once" if count == 1 else f"{count} times"
    told = f"{lap.lasts_s:.1f} s from line to line; driven {times}."
    return Shown(name, "laps", {"lap": name}, verdict, told, figures, _planned(name, lap))
