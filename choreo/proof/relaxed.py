"""Rows of the linear relaxation: linear bounds on event times (s) and stations (m), with the words that show them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import field
from typing import Any, Literal

from choreo.words.kinds import Unit
from choreo.words.origin import Origin
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Variable:
    """An unknown of the relaxation.

    station, time: of a mover at a phase boundary, where boundary 0 is the launch and boundary i + 1 the end of phase i.
    crossing, acts: when a trigger's setting is reached, and when it acts. encounter: when an encounter happens.
    """

    kind: Literal["station", "time", "crossing", "acts", "encounter"]
    name: str
    boundary: int = 0


Terms = dict[Variable, float]


@dataclass(frozen=True, slots=True)
class RelaxedRow:
    """lo <= sum of coefficient * variable <= hi, in `unit`; place: the line of the scenario that it comes from.

    Variables may be anything that can be a key. `what` is '' for a row that only defines a variable and is never shown.
    """

    terms: Mapping[Any, float]
    lo: float
    hi: float
    what: str
    unit: Unit
    place: str | None


@dataclass()
class Rows:
    """The rows of one problem's relaxation, as they are added."""

    rows: list[RelaxedRow] = field(default_factory=list)

    def add(
        self, terms: Terms, lo: float, hi: float, what: str, unit: Unit, origin: Origin | None
    ) -> None:
        """Add lo <= terms <= hi; one that bounds nothing is left out."""
        if math.isinf(lo) and math.isinf(hi):
            return
        place = None if origin is None else str(origin)
        kept = {variable: value for variable, value in terms.items() if value != 0}
        self.rows.append(RelaxedRow(kept, lo, hi, what, unit, place))

    def define(self, terms: Terms, lo: float, hi: float, unit: Unit) -> None:
        """Add a row that is never shown."""
        self.add(terms, lo, hi, "", unit, None)


def station(mover: str, boundary: int, factor: float = 1.0) -> Terms:
    """Give a mover's station at a phase boundary."""
    return {Variable("station", mover, boundary): factor}


def time(mover: str, boundary: int, factor: float = 1.0) -> Terms:
    """Give the time at which a mover is at a phase boundary."""
    return {Variable("time", mover, boundary): factor}


def way(mover: str, phase: int) -> Terms:
    """Give the way of a phase."""
    return total(station(mover, phase + 1), station(mover, phase), -1.0)


def lasting(mover: str, phase: int) -> Terms:
    """Give how long a phase lasts."""
    return total(time(mover, phase + 1), time(mover, phase), -1.0)


def crossing(trigger: str) -> Terms:
    """Give the time at which a trigger's setting is reached."""
    return {Variable("crossing", trigger): 1.0}


def acts(trigger: str) -> Terms:
    """Give the time at which a trigger acts."""
    return {Variable("acts", trigger): 1.0}


def encounter_time(encounter: str) -> Terms:
    """Give the time of an encounter."""
    return {Variable("encounter", encounter): 1.0}


def total(left: Terms, right: Terms, factor: float = 1.0) -> Terms:
    """Give left + factor * right."""
    summed = dict(left)
    for variable, value in right.items():
        summed[variable] = summed.get(variable, 0.0) + factor * value
    return summed
