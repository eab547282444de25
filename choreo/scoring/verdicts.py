"""What is found of one rule in one run: a value against its bounds, with the uncertainty of what was measured.

Guarded acceptance and rejection: JCGM 106:2012 (from memory), guard band 1.65 u for 95 % one-sided.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from choreo.words.kinds import Unit

Ruling = Literal["valid", "invalid", "not decidable"]

GUARD = 1.65
# A bound is met when it is missed by no more than this share of itself, or this: the last digit of a sum.
ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Judged:
    """One rule in one run. worst: the value nearest to a bound or farthest beyond it, SI; at_s: when, after go.

    lower, upper: None where there is no bound. margin: to the nearer bound, negative beyond it. guard: the width of the
    guard band, 0 where none was taken. source: line or clause. why: what makes it undecidable, or what failed.
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


@dataclass(frozen=True, slots=True)
class Rule:
    """What is judged, in words; its bounds in SI, None for none; where it was written."""

    words: str
    unit: Unit | None
    lower: float | None
    upper: float | None
    source: str


def margin_of(value: float, lower: float | None, upper: float | None) -> float:
    """Give how far a value is inside its bounds; negative outside, inf where there is no bound."""
    below = math.inf if upper is None else upper - value
    above = math.inf if lower is None else value - lower
    return min(below, above)


def judge(rule: Rule, value: float, at_s: float | None, uncertainty: float) -> Judged:
    """Compare a value with its bounds, both included. uncertainty: standard; 0 for a plain comparison."""
    margin = margin_of(value, rule.lower, rule.upper)
    guard = GUARD * uncertainty
    sizes = [abs(one) for one in (rule.lower, rule.upper) if one is not None]
    slack = ROUNDING * max([1.0, *sizes])
    ruling: Ruling = "not decidable"
    why = ""
    if margin >= guard - slack:
        ruling = "valid"
    elif margin < -guard - slack or guard == 0.0:
        ruling = "invalid"
    else:
        why = "nearer to its bound than the measurement is sure"
    return Judged(
        rule.words,
        ruling,
        rule.unit,
        value,
        at_s,
        rule.lower,
        rule.upper,
        margin,
        guard,
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
