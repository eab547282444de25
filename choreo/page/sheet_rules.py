"""The run sheet's part of a scenario's rules: conditions to look at before go, and the limits in which a run counts."""

from __future__ import annotations

from collections.abc import Iterator

from choreo.page.markup import text
from choreo.page.sheet_parts import row, table
from choreo.rules.applied import Rules, rules_of
from choreo.rules.numbers import told_bounds
from choreo.rules.records import QUANTITIES, Band, BetweenRuns, Condition, Instant
from choreo.rules.table import rows_of
from choreo.scenario import Scenario


def conditions_html(scenario: Scenario) -> str:
    """Give what the rules ask of track, weather and vehicle; nothing where the scenario names no rules."""
    rules = rules_of(scenario)
    if rules is None:
        return ""
    conditions = list(_conditions(rules))
    if not conditions:
        return ""
    head = ("condition", "asked for", "clause", "as measured", "in?")
    return f"<p>No-go where one of these is not met ({_named(rules)}).</p>" + table(
        head, conditions, "conditions"
    )


def limits_html(scenario: Scenario) -> str:
    """Give the limits in which a run counts; nothing where the scenario names no rules, or these have none."""
    rules = rules_of(scenario)
    limits = [] if rules is None else list(_limits(rules))
    if rules is None or not limits:
        return ""
    columns = ("of, signal", "off by", "when", "clause", "worst", "in?")
    return f"<p>{_named(rules)}</p>" + table(columns, limits, "limits")


def _named(rules: Rules) -> str:
    """The rule set and the family, and that there is a newer one where there is."""
    family = rules.cast.family
    older = "" if rules.set.newest else "; this is not the newest version of it"
    return text(f"Rules: {rules.set.named}: {family.title or family.name}{older}")


def _conditions(rules: Rules) -> Iterator[str]:
    for rule in rules.cast.family.rules:
        match rule:
            case Condition() if rule.of != "recording":
                what = f"{rule.of}: {rule.quantity}"
            case BetweenRuns():
                what = rule.quantity
            case _:
                continue
        unit = QUANTITIES[rule.quantity]
        bound = told_bounds(rule.lower, rule.upper, unit, rule.quantity, plain=True)
        note = f" ({rule.source.note})" if rule.source.note else ""
        remedy = rule.remedy if isinstance(rule, BetweenRuns) else ""
        asked = f"{bound}{note}" + (f"; {remedy}" if remedy else "")
        yield row(what, (asked, rule.source.clause or "-"), 2)


def _limits(rules: Rules) -> Iterator[str]:
    words = {one.id: one for one in rows_of(rules.cast.family)}
    for rule in rules.cast.family.rules:
        if not isinstance(rule, Band | Instant):
            continue
        name = rules.cast.movers.get(rule.role, rule.role)
        told = words[rule.id]
        when = words[rule.window].when if isinstance(rule, Band) else told.when
        yield row(f"{name}: {rule.signal}", (told.bound, when, rule.source.clause or "-"), 2)
