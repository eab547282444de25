"""The whole of `why`: what doesn't fit, what would help and what can't, or how much room a plan leaves."""

from __future__ import annotations

from dataclasses import dataclass, replace

from choreo.case import Answer, Case, Quantity
from choreo.plans.message import Message
from choreo.plans.record import Plan
from choreo.repair.search import Change, Margin, Repair, cheapest_pair, margins, single_repairs
from choreo.scenario import Scenario
from choreo.words.display import quantity

# What the author calls cheap counts as a tenth of its relative size when repairs are sorted.
CHEAP = 0.1
# So many repairs stand in a plan document; `why` gives all.
BEST = 3


@dataclass(frozen=True)
class Explanation:
    """A plan with its verdict; repairs (or margins when feasible); what can't help alone; what must be kept."""

    plan: Plan
    repairs: tuple[Repair, ...] = ()
    helpless: tuple[str, ...] = ()
    kept: tuple[str, ...] = ()
    margins: tuple[Margin, ...] = ()


def explain(found: Answer) -> Explanation:
    """Explain an answer's verdict: what would help, or how much room a feasible plan leaves."""
    case = found.case
    scenario = case.scenario
    quantities = negotiable(case)
    if found.feasible:
        room = tuple(margins(case, quantities))
        return Explanation(found.plan, kept=scenario.keep, margins=room)
    repairs, helpless = single_repairs(case, quantities)
    if not repairs:
        pair = cheapest_pair(case, quantities)
        repairs = [pair] if pair is not None else []
    repairs.sort(key=lambda repair: _cost(scenario, repair))
    best = tuple(_message(scenario, repair) for repair in repairs[:BEST])
    plan = replace(found.plan, repairs=best)
    names = tuple(quantity.name for quantity in helpless)
    return Explanation(plan, tuple(repairs), names, scenario.keep)


def negotiable(case: Case) -> list[Quantity]:
    """Give the quantities that may be changed: all but those under keep:."""
    return [one for one in case.quantities if not set(one.names) & set(case.scenario.keep)]


def _cost(scenario: Scenario, repair: Repair) -> float:
    return sum(
        change.relative * (CHEAP if set(change.quantity.names) & set(scenario.cheap) else 1.0)
        for change in repair.changes
    )


def change_text(change: Change) -> str:
    """'subject speed  80.00 km/h -> 68.03 km/h'."""
    of = change.quantity
    return f"{of.name} {quantity(of.value, of.unit)} -> {quantity(change.value, of.unit)}"


def _message(scenario: Scenario, repair: Repair) -> Message:
    text = " and ".join(change_text(change) for change in repair.changes)
    place = scenario.origin(*repair.changes[0].quantity.keys)
    return Message("repair", "note", text, "", str(place))
