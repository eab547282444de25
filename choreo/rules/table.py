"""A rule set, or a family of it, as rows of words and as plain data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any, assert_never

from choreo.rules.events import told_event
from choreo.rules.numbers import told, told_bounds
from choreo.rules.records import (
    QUANTITIES,
    SIGNALS,
    Band,
    BetweenRuns,
    CampaignRule,
    Condition,
    Family,
    Filter,
    Instant,
    Onset,
    Reference,
    Rule,
    RuleSet,
    Settle,
    Shape,
    Signal,
    Window,
)
from choreo.words.records import dataclass

RULES_FORMAT = "choreo rules table 1"
KINDS: Mapping[type[Rule], str] = {
    Window: "window",
    Band: "band",
    Instant: "instant",
    Settle: "settle",
    Shape: "shape",
    BetweenRuns: "between runs",
    Condition: "condition",
    CampaignRule: "campaign",
    Onset: "onset",
}


@dataclass(frozen=True, slots=True)
class Row:
    """One rule in words. when: its window or moment."""

    id: str
    kind: str
    what: str
    bound: str
    when: str
    clause: str
    status: str
    note: str


def rows_of(family: Family) -> tuple[Row, ...]:
    """Give all rules of a family in words, in their order; of windows those that a band of it uses."""
    used = {band.window for band in family.of(Band)}
    rules = (rule for rule in family.rules if not isinstance(rule, Window) or rule.id in used)
    return tuple(_row(rule, family) for rule in rules)


def data_of(rules: RuleSet, family: Family | None = None) -> dict[str, Any]:
    """Give a set, or one family with its rules, as plain data: SI, as in the records."""
    families = rules.families.values() if family is None else (family,)
    return {
        "format": RULES_FORMAT,
        "set": rules.name,
        "title": rules.title,
        "document": rules.document,
        "version": rules.version,
        "date": rules.date,
        "newest": rules.newest,
        "builds_on": rules.builds_on,
        "note": rules.note,
        "families": [_family(one, whole=family is not None) for one in families],
    }


def unsure_of(rules: RuleSet) -> int:
    """Give how many rules of a set nobody has seen in the document, or are provisional there."""
    all_rules = {rule.id: rule for one in rules.families.values() for rule in one.rules}
    return sum(rule.source.status != "seen" for rule in all_rules.values())


def _family(family: Family, *, whole: bool) -> dict[str, Any]:
    told_briefly: dict[str, Any] = {
        "name": family.name,
        "title": family.title,
        "roles": list(family.roles),
        "t0": None if family.t0 is None else told_event(family.t0),
        "cells": family.cells,
        "rules": len(family.rules),
    }
    if not whole:
        return told_briefly
    rules = [{"kind": KINDS[type(rule)], **asdict(rule)} for rule in family.rules]
    impact = None if family.impact is None else asdict(family.impact)
    matrix = [{**asdict(grid), "cells": grid.cells} for grid in family.matrix]
    return {**told_briefly, "rules": rules, "matrix": matrix, "impact speeds": impact}


def _row(rule: Rule, family: Family) -> Row:
    what, bound, when = _words(rule, family)
    source = rule.source
    note = "; ".join(one for one in (source.note, _extra(rule)) if one)
    kind = KINDS[type(rule)]
    return Row(rule.id, kind, what, bound, when, source.clause, source.status, note)


def _words(rule: Rule, family: Family) -> tuple[str, str, str]:
    """What a rule is about, its bound, and when it holds."""
    match rule:
        case Window():
            ends = " or ".join(told_event(one) for one in rule.ends)
            return "", "", f"from {told_event(rule.starts)} to {ends}"
        case Band():
            bound = _bounds(rule)
            about = _about(rule.reference, rule.signal)
            return f"{rule.role}: {rule.signal}", f"{bound}{about}", rule.window
        case Instant():
            bound = _bounds(rule)
            about = _about(rule.reference, rule.signal)
            other = f", or {rule.or_else}" if rule.or_else else ""
            when = f"at {told_event(rule.event)}"
            return f"{rule.role}: {rule.signal}", f"{bound}{about}{other}", when
        case Settle():
            what = ", ".join(rule.bands) or "steady"
            return what, f"for {told(rule.lasting_s, 's')}", f"before {told_event(rule.event)}"
        case Shape():
            level = "the planned level"
            if (rule.level_lower, rule.level_upper) != (None, None):
                unit = SIGNALS[rule.signal].unit
                level = told_bounds(
                    rule.level_lower, rule.level_upper, unit, rule.signal, plain=True
                )
            held = ""
            if (rule.lower, rule.upper) != (None, None):
                unit = SIGNALS[rule.held].unit
                held = f", then {rule.held} {told_bounds(rule.lower, rule.upper, unit, rule.held)}"
            bound = f"{level} within {told(rule.within_s, 's')}{held}"
            when = f"after {told_event(rule.event)}, until {told_event(rule.until)}"
            return f"{rule.role}: {rule.signal}", bound, when
        case BetweenRuns() | Condition():
            unit = QUANTITIES[rule.quantity]
            bound = told_bounds(rule.lower, rule.upper, unit, rule.quantity, plain=True)
            of = "between runs" if isinstance(rule, BetweenRuns) else rule.of
            return f"{of}: {rule.quantity}", bound, ""
        case CampaignRule():
            extra = f", {rule.extra} more after a failed one" if rule.extra else ""
            return "repeats", f"{rule.repeats}{extra}", ""
        case Onset():
            level = told(rule.level, SIGNALS[rule.signal].unit)
            back = "" if rule.back_to is None else told(rule.back_to, SIGNALS[rule.signal].unit)
            bound = f"passes {level}" + (f", back to {back}" if back else "")
            return f"{rule.role}: {rule.signal}", bound, f"is {rule.event}"
        case _:
            assert_never(rule)


def _bounds(rule: Band | Instant) -> str:
    """Bounds of a signal; those that count from nothing are values themselves."""
    unit = SIGNALS[rule.signal].unit
    plain = rule.reference == Reference("constant", 0.0)
    return told_bounds(rule.lower, rule.upper, unit, rule.signal, plain=plain)


def _about(reference: Reference, signal: Signal) -> str:
    if reference.name != "constant":
        return "" if reference.name in ("planned", "path") else f" about the {reference.name}"
    if reference.value == 0.0:
        return ""
    return f" about {told(reference.value, SIGNALS[signal].unit, signal)}"


def _extra(rule: Rule) -> str:
    """What else there is to tell: how a signal is filtered, what to do, when to stop."""
    if isinstance(rule, Band | Onset) and rule.filter is not None:
        return _filtered(rule.filter)
    if isinstance(rule, BetweenRuns):
        return rule.remedy
    if isinstance(rule, CampaignRule):
        failures = (
            "" if rule.failures_ratio is None else f"{100 * rule.failures_ratio:g} % may fail"
        )
        return "; ".join(one for one in (rule.stop, failures) if one)
    return ""


def _filtered(one: Filter) -> str:
    way = "phaseless " if one.phaseless else ""
    return f"{one.poles}-pole {way}Butterworth, {one.cutoff_hz:g} Hz"
