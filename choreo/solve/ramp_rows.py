"""Where the unknowns and rows of one ramp are written, and the chain of pieces that comes out."""

from __future__ import annotations

import math

from choreo.problem.records import Ramp
from choreo.solve.blocks import gained_by
from choreo.solve.formulation import Expression, Formulation, Owner, Role
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Link:
    """A piece of a ramp: duration, acceleration at its start and its end, signed."""

    duration_s: Expression
    start_mps2: Expression
    end_mps2: Expression

    @property
    def gained_mps(self) -> Expression:
        """The change of speed over it."""
        return gained_by(self.duration_s, self.start_mps2, self.end_mps2)[0]


@dataclass(frozen=True, slots=True)
class RampModel:
    """The links of a ramp and how much of its limit it uses (None where that is not free)."""

    links: tuple[Link, ...]
    use: Expression | None


@dataclass(frozen=True, slots=True)
class RampRows:
    """One ramp of a formulation. shape: with plain numbers, for structure; ramp: the same with symbols."""

    formulation: Formulation
    label: str
    owner: Owner
    shape: Ramp
    ramp: Ramp

    @property
    def jerky(self) -> bool:
        """Whether the ramp has a jerk limit."""
        return not is_infinite(self.ramp.jerk_mps3)

    def unknown(
        self, what: str, lo: Expression, hi: Expression, guess: Expression, role: Role = "shape"
    ) -> Expression:
        """Add an unknown of the ramp."""
        return self.formulation.unknown(f"{self.label}: {what}", lo, hi, guess, role, self.owner)

    def equal(self, what: str, left: Expression, right: Expression, unit: str) -> None:
        """Add left = right."""
        name = f"{self.label}: {what}"
        self.formulation.equal(name, left, right, unit, self.shape.origin)

    def at_least(self, what: str, left: Expression, right: Expression, unit: str) -> None:
        """Add left >= right."""
        name = f"{self.label}: {what}"
        self.formulation.at_least(name, left, right, unit, self.shape.origin)


def is_infinite(value: Expression) -> bool:
    """Say whether a limit is none: an infinite number stays one where finite ones become symbols."""
    return isinstance(value, float) and math.isinf(value)
