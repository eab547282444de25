"""Unknowns and named rows: what a nonlinear problem is made of, before any solver sees it."""

from __future__ import annotations

import math
from dataclasses import field
from typing import Any, Literal, TypeVar

import casadi as ca

from choreo.scenario import Span
from choreo.words.origin import Origin
from choreo.words.records import dataclass

Expression = Any  # a casadi.SX or a float; casadi ships no types
Record = TypeVar("Record")

# What an unknown is, which decides how a starting point treats it. start: where a mover starts; launch: when it sets
# off; duration: of a wait or a hold; shape: of a ramp; time: at which something happens; use: the share of a limit that
# is used.
Role = Literal["start", "launch", "duration", "shape", "time", "use"]


def twin(shape: Record, symbolic: object) -> Record:
    """Give `symbolic` as a record of the type of `shape`.

    While rows are written every record of the problem exists twice: with plain numbers, which say what rows there are
    (its shape), and with symbols, which stand in them.
    """
    if not isinstance(symbolic, type(shape)):
        raise AssertionError("numbers and symbols have different records")
    return symbolic


@dataclass(frozen=True, slots=True)
class Owner:
    """Whom an unknown belongs to: a mover, or the phase of that index."""

    mover: str
    phase: int | None = None


@dataclass(frozen=True, slots=True)
class Passing:
    """When a mover first has a station (m) or a speed (m/s)."""

    mover: str
    quantity: Literal["station", "speed"]
    value: Expression


@dataclass(frozen=True, slots=True)
class Unknown:
    """One unknown: bounds and first guess are expressions of the parameters (the guess of unknowns too).

    passing: where the guess is the time at which the guessed motion gets there.
    """

    name: str
    symbol: Expression
    lo: Expression
    hi: Expression
    guess: Expression
    role: Role
    owner: Owner | None
    passing: Passing | None


@dataclass(frozen=True, slots=True)
class Row:
    """lo <= expression <= hi, with a name that a person understands, its unit, and its origin."""

    name: str
    expression: Expression
    lo: float
    hi: float
    unit: str
    origin: Origin | None


@dataclass(frozen=True, slots=True)
class Form:
    """Which of several formulations is written for a structure.

    pause_share: a mover launched by a trigger cannot start earlier or later; if set, its ramp may hold its speed once,
    after this fraction of the speed change.
    apart_m: keep movers of one lane this far apart until shortly before their contact, which few problems need.
    flat: a table over speed counts as its least value between the ramp's speeds.
    at_limits: ramps whose rate nobody states are driven at their limit, those under a table along it.
    table_pieces: into how many pieces a ramp under a table is cut; more come closer to the table and cost more.
    """

    pause_share: float | None = None
    apart_m: float = 0.0
    flat: bool = False
    at_limits: bool = False
    table_pieces: int = 12


USUAL_FORM = Form()


@dataclass()
class Formulation:
    """A growing list of unknowns and rows."""

    form: Form = field(default_factory=Form)
    unknowns: list[Unknown] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)

    def unknown(
        self,
        name: str,
        lo: Expression,
        hi: Expression,
        guess: Expression,
        role: Role,
        owner: Owner | None = None,
        passing: Passing | None = None,
    ) -> Expression:
        """Add an unknown and give its symbol."""
        symbol = ca.SX.sym(name)
        self.unknowns.append(Unknown(name, symbol, lo, hi, guess, role, owner, passing))
        return symbol

    def depends_on(self, expression: Expression) -> bool:
        """Tell whether an expression depends on any of the unknowns so far."""
        symbols = ca.vertcat(*[unknown.symbol for unknown in self.unknowns])
        return bool(ca.depends_on(ca.SX(expression), symbols))

    def equal(
        self, name: str, left: Expression, right: Expression, unit: str, origin: Origin | None
    ) -> None:
        """Add left = right."""
        self.rows.append(Row(name, left - right, 0.0, 0.0, unit, origin))

    def at_least(
        self, name: str, left: Expression, right: Expression, unit: str, origin: Origin | None
    ) -> None:
        """Add left >= right."""
        self.rows.append(Row(name, left - right, 0.0, math.inf, unit, origin))

    def in_range(
        self,
        name: str,
        value: Expression,
        rate: Expression,
        shape: Span,
        wanted: Span,
        unit: str,
        origin: Origin | None,
    ) -> None:
        """Add wanted.lo <= value / rate <= wanted.hi without dividing, so that a zero rate is harmless.

        shape: the range with plain numbers, which says what ends there are; wanted: the same with symbols.
        """
        if shape.fixed:
            self.equal(name, value, wanted.lo * rate, unit, origin)
            return
        if math.isfinite(shape.lo):
            self.at_least(f"{name}, least", value, wanted.lo * rate, unit, origin)
        if math.isfinite(shape.hi):
            self.at_least(f"{name}, most", wanted.hi * rate, value, unit, origin)
