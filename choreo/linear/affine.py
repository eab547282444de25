"""Sums of unknowns with a constant: times in s and stations in m of a plan whose ramps are given."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field

from choreo.words.records import dataclass

Terms = Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Affine:
    """constant + sum of coefficient * unknown; unknowns by name."""

    constant: float = 0.0
    terms: Terms = field(default_factory=dict)

    def plus(self, other: Affine | float, factor: float = 1.0) -> Affine:
        """Give this + factor * other."""
        if isinstance(other, float):
            return Affine(self.constant + factor * other, self.terms)
        terms = dict(self.terms)
        for name, value in other.terms.items():
            total = terms.get(name, 0.0) + factor * value
            if total == 0.0:
                terms.pop(name, None)
            else:
                terms[name] = total
        return Affine(self.constant + factor * other.constant, terms)

    def minus(self, other: Affine | float) -> Affine:
        """Give this - other."""
        return self.plus(other, -1.0)

    def times(self, factor: float) -> Affine:
        """Give factor * this."""
        scaled = {name: factor * value for name, value in self.terms.items() if factor != 0.0}
        return Affine(factor * self.constant, scaled)

    def at(self, values: Mapping[str, float]) -> float:
        """Give its value."""
        return self.constant + sum(value * values[name] for name, value in self.terms.items())


def unknown(name: str) -> Affine:
    """Give an unknown by itself."""
    return Affine(0.0, {name: 1.0})


def given(value: float) -> Affine:
    """Give a constant."""
    return Affine(value)
