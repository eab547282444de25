"""A number that a planner may change: what it is called, where it stands, how far it may go, how it is set."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from choreo.scenario import Scenario
from choreo.scenario.records.scenario import SpanEnd
from choreo.words.kinds import Unit

Keys = tuple[str | int, ...]
Set = Callable[[Scenario, float], Scenario]

# A change of a quantity that is zero is measured against these (m, m/s, m/s2, m/s3, s).
PLAIN: Mapping[Unit, float] = {"m": 10.0, "m/s": 5.0, "m/s2": 1.0, "m/s3": 1.0, "s": 1.0}
# No quantity is proposed at more than so many times its value.
WIDE = 20.0


@dataclass(frozen=True)
class Quantity:
    """One quantity: value in SI, what helps (+1 larger, -1 smaller, both), how far it may go, how to set it.

    put: gives a scenario in which it has another value. keys: where it is written. end: which end of a range is meant
    ('lo', 'hi', or '' for a single value). parts: names of the quantities that a named value drives all together.
    moves_start: a longer first line also sets the path's start back.
    capped: `high` is a limit of its mover.
    """

    name: str
    unit: Unit
    value: float
    helps: tuple[int, ...]
    low: float
    high: float
    keys: Keys
    end: SpanEnd
    put: Set
    moves_start: bool = False
    capped: bool = False
    parts: tuple[str, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """Its name, and those of all that it drives."""
        return (self.name, *self.parts)

    @property
    def size(self) -> float:
        """What a change is measured against: the value itself, or a plain one where that is zero."""
        return max(abs(self.value), PLAIN[self.unit])
