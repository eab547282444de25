"""A number that a planner may change: what it is called, where it stands, how far it may go, how it is set."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Protocol, TypeVar

from choreo.scenario import Scenario
from choreo.scenario.records.scenario import SpanEnd
from choreo.words.kinds import Unit
from choreo.words.records import dataclass

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


class Settable(Protocol):
    """What stands in the file, and can be set."""

    @property
    def keys(self) -> Keys:
        """Where it stands."""
        ...

    @property
    def put(self) -> Set:
        """Give a scenario in which it has another value (SI)."""
        ...


P = TypeVar("P", bound=Settable)


def as_one(
    scenario: Scenario,
    every: Sequence[P],
    join: Callable[[str, tuple[P, ...]], P],
    joins: Callable[[P], bool] = lambda _one: True,
) -> list[P]:
    """Give all of it, but what one named value drives in several places once, as `join` makes it.

    join: of the name and its places. joins: whether one may be part of such a whole. Only where all uses of the name
    are among it: else what can't be set here would stay behind.
    """
    found = list(every)
    for name, origins in scenario.uses.items():
        driven = tuple(one for one in found if joins(one) and scenario.origin(*one.keys) in origins)
        if len(driven) < 2 or {scenario.origin(*one.keys) for one in driven} != set(origins):
            continue
        first = found.index(driven[0])
        found = [one for one in found if one not in driven]
        found.insert(first, join(name, driven))
    return found


def put_all(driven: Sequence[Settable]) -> Set:
    """Give what sets all of them to the same value."""

    def put(scenario: Scenario, value: float) -> Scenario:
        for one in driven:
            scenario = one.put(scenario, value)
        return scenario

    return put
