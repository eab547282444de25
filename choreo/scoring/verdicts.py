"""What is told of one rule in one run: a value against its bounds, ruled by the judge of rule sets."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Literal

from choreo.rules.evaluating import GUARD, UNSURE, Outcome, margin_of, outcome_of
from choreo.rules.records import SignalUnit
from choreo.words.kinds import Unit
from choreo.words.records import dataclass

Ruling = Literal["valid", "invalid", "not decidable"]
RULINGS: Mapping[Outcome, Ruling] = {
    "kept": "valid",
    "broken": "invalid",
    "not decidable": "not decidable",
}


@dataclass(frozen=True, slots=True)
class Judged:
    """One rule in one run. worst: the value nearest to a bound or farthest beyond it, SI; at_s: when, after go.

    lower, upper: None where there is no bound. margin: to the nearer bound, negative beyond it. guard: the width of the
    guard band, 0 where none was taken. source: line or clause. why: what makes it undecidable, or what failed.
    signal, rule_unit: what is measured, and its unit, of a rule set's rule; unit is None where scenarios lack that.
    owner: whose that is. from_s, until_s: the window of a band.
    """

    rule: str
    ruling: Ruling
    unit: Unit | None
    worst: float | None
    at_s: float | None
    lower: float | None
    upper: float | None
    margin: float | None
    guard: float
    source: str
    why: str = ""
    signal: str = ""
    rule_unit: SignalUnit | None = None
    owner: str = ""
    from_s: float | None = None
    until_s: float | None = None


@dataclass(frozen=True, slots=True)
class Rule:
    """What is judged, in words; its bounds in SI, None for none; where it was written."""

    words: str
    unit: Unit | None
    lower: float | None
    upper: float | None
    source: str


def judge(rule: Rule, value: float, at_s: float | None, uncertainty: float) -> Judged:
    """Compare a value with its bounds, both included. uncertainty: standard; 0 for a plain comparison."""
    margin = margin_of(value, rule.lower, rule.upper)
    ruling = RULINGS[outcome_of(margin, rule.lower, rule.upper, uncertainty)]
    why = UNSURE if ruling == "not decidable" else ""
    return Judged(
        rule.words,
        ruling,
        rule.unit,
        value,
        at_s,
        rule.lower,
        rule.upper,
        margin,
        GUARD * uncertainty,
        rule.source,
        why,
    )


def undecided(rule: Rule, why: str) -> Judged:
    """Give what can't be judged."""
    return _without_number(rule, "not decidable", why)


def failed(rule: Rule, why: str, at_s: float | None = None) -> Judged:
    """Give what failed without a number."""
    return _without_number(rule, "invalid", why, at_s)


def met(rule: Rule, why: str = "") -> Judged:
    """Give what holds without a number."""
    return _without_number(rule, "valid", why)


def _without_number(rule: Rule, ruling: Ruling, why: str, at_s: float | None = None) -> Judged:
    return Judged(
        rule.words,
        ruling,
        rule.unit,
        None,
        at_s,
        rule.lower,
        rule.upper,
        None,
        0.0,
        rule.source,
        why,
    )


def overall(judged: Iterable[Judged]) -> Ruling:
    """Give the ruling of a run: invalid where any rule fails, else not decidable where any can't be decided."""
    rulings = {one.ruling for one in judged}
    if "invalid" in rulings:
        return "invalid"
    return "not decidable" if "not decidable" in rulings else "valid"
