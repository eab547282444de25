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
            if name not in terms:
                if factor * value != 0.0:
                    terms[name] = factor * value
                continue
            total = terms[name] + factor * value
            if total == 0.0:
                del terms[name]
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

    def line(self, at: float, value: float, slope: float) -> Affine:
        """Give the straight line over this that has a value at one of it, and a slope."""
        if slope == 0.0:
            return Affine(value)
        scaled = {name: slope * one for name, one in self.terms.items()}
        return Affine(slope * (self.constant - at) + value, scaled)

    def at(self, values: Mapping[str, float]) -> float:
        """Give its value."""
        total = 0.0
        for name, value in self.terms.items():
            total += value * values[name]
        return self.constant + total


def unknown(name: str) -> Affine:
    """Give an unknown by itself."""
    return Affine(0.0, {name: 1.0})


def given(value: float) -> Affine:
    """Give a constant."""
    return Affine(value)
