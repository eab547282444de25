"""Figures of rows by name: the unit of each, and how it is told."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from choreo.campaigns.records import Row
from choreo.words.display import quantity
from choreo.words.kinds import CONDITIONS, Unit

WHOLE: Mapping[str, Unit] = {"runway": "m", "duration": "s"}
# Ends of the names of figures of one mover.
OF_MOVER: Mapping[str, Unit] = {" start": "m", " run-up": "m", " runway": "m"}


def unit_of(figure: str) -> Unit:
    """Give the SI unit of a figure by its name."""
    if figure in WHOLE:
        return WHOLE[figure]
    ends = {**OF_MOVER, **{f" {name}": facts.unit for name, facts in CONDITIONS.items()}}
    return next(unit for end, unit in ends.items() if figure.endswith(end))


def told(figure: str, value: float) -> str:
    """Give a figure as people read it; speeds in km/h."""
    return quantity(value, unit_of(figure))


def figures_in(rows: Iterable[Row]) -> list[str]:
    """Give the names of all figures that any row has, in the order in which they come."""
    return list(dict.fromkeys(name for row in rows for name in row.figures))
