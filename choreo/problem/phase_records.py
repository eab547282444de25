"""The phases of a problem's movers, as inert records in SI."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

from choreo.scenario import Event, Span
from choreo.words.origin import Origin
from choreo.words.records import dataclass

# Up or down: the sign of a ramp's change of speed.
Direction = Literal[1, -1]
# The wait of a mover that is launched at go: no author's name has a space.
AT_GO = "wait for go"


@dataclass(frozen=True, slots=True)
class Wait:
    """Stands until `trigger` acts, until `until_s` after go, or for `for_s`; exactly one of them is set.

    for_s: never of a first phase, whose end is the launch. latency_s: from the trigger's act to the motion.
    """

    name: str
    origin: Origin | None
    trigger: str | None
    until_s: float | None
    for_s: float | None = None
    latency_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Ramp:
    """A monotone change of speed, up or down.

    table: (speed m/s, acceleration m/s2) pairs that the rate's magnitude may not exceed; linear between, flat beyond.
    rated: nothing is left to choose, the shape is the quickest at the table's one rate (stops, given rates).
    ends_at_m: the station at which a stop comes to rest.
    limit: the table of what the mover can do, where `table` is what it usually does. chosen: the author leaves the rate
    to be chosen below the table; least_mps2: no lower than this, that is the ramp lasts no longer than at it.
    """

    name: str
    origin: Origin | None
    direction: Direction
    to: Span
    table: tuple[tuple[float, float], ...]
    jerk_mps3: float
    rated: bool
    is_stop: bool
    build_up_s: float | None
    within_m: float | None
    over_m: float | None
    lasting_s: float | None
    limit: tuple[tuple[float, float], ...] | None = None
    ends_at_m: float | None = None
    chosen: bool = False
    least_mps2: float | None = None

    @property
    def unstated(self) -> bool:
        """Whether nobody says how quick it is."""
        bounds = (self.within_m, self.over_m, self.lasting_s)
        return not self.rated and not self.chosen and all(one is None for one in bounds)

    @property
    def loose(self) -> Ramp:
        """The ramp with all that the mover can do, not only what it usually does."""
        return self if self.limit is None else replace(self, table=self.limit, limit=None)


@dataclass(frozen=True, slots=True)
class Hold:
    """Constant speed; at most one of for_s and for_m; until names the event that ends it.

    ends_at_m: the station at which it ends, where a place does it. latency_s: from a trigger's act to the braking that
    follows.
    """

    name: str
    origin: Origin | None
    settle_s: float
    settled_by: Event | None
    for_s: float | None
    for_m: float | None
    until: Event | None
    latency_s: float = 0.0
    ends_at_m: float | None = None

    @property
    def settles(self) -> bool:
        """Whether it must be steady for a time."""
        return self.settle_s > 0

    def lasts_until(self, encounter: str) -> bool:
        """Say whether it lasts until that encounter."""
        return self.until == Event("encounter", encounter)


Phase = Wait | Ramp | Hold
