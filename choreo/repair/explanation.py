"""The whole of `why`: what doesn't fit, what would help and what can't, or how much room a plan leaves."""

from __future__ import annotations

from dataclasses import dataclass, replace

from choreo.case.answering import answer
from choreo.plans.message import Message
from choreo.plans.record import Plan
from choreo.repair.knobs import Knob, knobs_of
from choreo.repair.search import Change, Margin, Repair, cheapest_pair, margins, single_repairs
from choreo.scenario import Scenario
from choreo.words import ChoreoError, Finding
from choreo.words.display import quantity
from choreo.words.nearest import suggestion

# What the author calls cheap counts as a tenth of its relative size when repairs are sorted.
CHEAP = 0.1
BEST = 3


@dataclass(frozen=True)
class Explanation:
    """A plan with its verdict; repairs (or margins when feasible); what can't help alone; what must be kept."""

    plan: Plan
    repairs: tuple[Repair, ...] = ()
    helpless: tuple[str, ...] = ()
    kept: tuple[str, ...] = ()
    margins: tuple[Margin, ...] = ()


def explain(scenario: Scenario, plan: Plan | None = None) -> Explanation:
    """Explain a scenario's verdict.

    plan: the scenario's answer, where it is known already.

    Raises ChoreoError: faults of the scenario, and names under keep: or cheap: that no quantity has.
    """
    plan = plan or answer(scenario)
    knobs = negotiable(scenario)
    if plan.verdict == "feasible":
        return Explanation(plan, kept=scenario.keep, margins=tuple(margins(scenario, knobs)))
    repairs, helpless = single_repairs(scenario, knobs)
    if not repairs:
        pair = cheapest_pair(scenario, knobs)
        repairs = [pair] if pair is not None else []
    repairs.sort(key=lambda repair: _cost(scenario, repair))
    best = tuple(_message(scenario, repair) for repair in repairs[:BEST])
    plan = replace(plan, repairs=best)
    names = tuple(knob.name for knob in helpless)
    return Explanation(plan, tuple(repairs), names, scenario.keep)


def negotiable(scenario: Scenario) -> list[Knob]:
    """Give the quantities that may be changed: all but those under keep:."""
    knobs = knobs_of(scenario)
    names = [knob.name for knob in knobs]
    faults = [
        Finding(
            "scenario.unknown-name",
            "error",
            scenario.origin(key, index),
            {"what": "quantity", "name": name, "suggestion": suggestion(name, names)},
            (),
        )
        for key, wanted in (("keep", scenario.keep), ("cheap", scenario.cheap))
        for index, name in enumerate(wanted)
        if name not in names
    ]
    if faults:
        raise ChoreoError(faults)
    return [knob for knob in knobs if knob.name not in scenario.keep]


def _cost(scenario: Scenario, repair: Repair) -> float:
    return sum(
        change.relative * (CHEAP if change.knob.name in scenario.cheap else 1.0)
        for change in repair.changes
    )


def told(change: Change) -> str:
    """'subject speed  80.00 km/h -> 68.03 km/h'."""
    knob = change.knob
    return f"{knob.name} {quantity(knob.value, knob.unit)} -> {quantity(change.value, knob.unit)}"


def _message(scenario: Scenario, repair: Repair) -> Message:
    text = " and ".join(told(change) for change in repair.changes)
    place = scenario.origin(*repair.changes[0].knob.keys)
    return Message("repair", "note", text, "", str(place))
