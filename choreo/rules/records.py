"""A rule set as frozen records: what must hold in a run, from when to when, and which clause says so.

All numbers are SI (m, s, m/s, rad, a share of 1); temperatures are in deg C, light in lux, as `SIGNALS` and
`QUANTITIES` say. **A bound that is None is no bound**: absent is not zero. Bounds are inclusive, and count from the
reference: a speed of `planned` with lower 0 and upper 0.2778 may be up to 1 km/h fast and not slow at all.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import field
from typing import TypeVar

from choreo.rules.kinds import EVENTS as EVENTS
from choreo.rules.kinds import QUANTITIES as QUANTITIES
from choreo.rules.kinds import SIGNALS as SIGNALS
from choreo.rules.kinds import VALUED as VALUED
from choreo.rules.kinds import Concern as Concern
from choreo.rules.kinds import EventName as EventName
from choreo.rules.kinds import ImpactOf as ImpactOf
from choreo.rules.kinds import Quantity as Quantity
from choreo.rules.kinds import ReferenceName as ReferenceName
from choreo.rules.kinds import Role as Role
from choreo.rules.kinds import Signal as Signal
from choreo.rules.kinds import SignalUnit as SignalUnit
from choreo.rules.kinds import Status as Status
from choreo.words.records import dataclass

# A speed that is this little (m/s) over a row's is of that row: the tolerance of a test speed, 1 km/h.
SAME_MPS = 1.0 / 3.6


def named(document: str, version: str) -> str:
    """Give a document with its version: `EN-FC v1.1`, `ISO 22733-1:2021`, `UN R152, 02 series`."""
    if not version:
        return document
    # ISO names an edition by its year.
    if version.isdigit() and len(version) == 4:
        return f"{document}:{version}"
    return f"{document} v{version}" if version[-1].isdigit() else f"{document}, {version}"


@dataclass(frozen=True, slots=True)
class Source:
    """Where a figure comes from. clause: empty where it isn't known; note: how it is to be read."""

    document: str
    version: str
    clause: str
    status: Status
    note: str = ""

    @property
    def words(self) -> str:
        """For messages, `EN-FC v1.1, 4.3.2`."""
        known = named(self.document, self.version)
        return f"{known}, {self.clause}" if self.clause else known


@dataclass(frozen=True, slots=True)
class EventRef:
    """A moment: offset_s after an event (before it when negative). value_s: of those in VALUED."""

    event: EventName
    offset_s: float = 0.0
    value_s: float | None = None


@dataclass(frozen=True, slots=True)
class Filter:
    """A Butterworth low-pass by its poles in all, both passes together, and the cut-off in Hz."""

    poles: int
    cutoff_hz: float
    phaseless: bool = True


@dataclass(frozen=True, slots=True)
class Reference:
    """What bounds count from; value: of a constant, SI."""

    name: ReferenceName
    value: float = 0.0


@dataclass(frozen=True, slots=True)
class Window:
    """From a start to the first of its ends, both included."""

    id: str
    starts: EventRef
    ends: tuple[EventRef, ...]
    source: Source


@dataclass(frozen=True, slots=True)
class Band:
    """A signal stays within bounds all through a window. window: the id of one of the family's."""

    id: str
    window: str
    role: Role
    signal: Signal
    reference: Reference
    lower: float | None
    upper: float | None
    filter: Filter | None
    source: Source


@dataclass(frozen=True, slots=True)
class Instant:
    """A signal is within bounds at a moment. or_else: the id of another instant that may be kept instead."""

    id: str
    event: EventRef
    role: Role
    signal: Signal
    reference: Reference
    lower: float | None
    upper: float | None
    source: Source
    or_else: str = ""


@dataclass(frozen=True, slots=True)
class Settle:
    """Bands, by id, hold for so long before an event; none named: whoever moves is steady."""

    id: str
    event: EventRef
    lasting_s: float
    bands: tuple[str, ...]
    source: Source


@dataclass(frozen=True, slots=True)
class Shape:
    """A signal gets to a level within within_s of an event; then `held` stays in a band until a moment.

    level_lower, level_upper: what counts as the level; both None: the one that the plan has. mean: the level is that of
    the average over what follows. lower, upper: of `held` against the profile that the plan gives; both None: no band.
    """

    id: str
    event: EventRef
    role: Role
    signal: Signal
    level_lower: float | None
    level_upper: float | None
    within_s: float
    held: Signal
    lower: float | None
    upper: float | None
    until: EventRef
    mean: bool
    source: Source


@dataclass(frozen=True, slots=True)
class BetweenRuns:
    """What holds from the end of a run to the start of the next one; remedy: what to do where it was not kept."""

    id: str
    quantity: Quantity
    lower: float | None
    upper: float | None
    remedy: str
    source: Source


@dataclass(frozen=True, slots=True)
class Condition:
    """What track, weather, vehicle or recording must be like."""

    id: str
    of: Concern
    quantity: Quantity
    lower: float | None
    upper: float | None
    source: Source


@dataclass(frozen=True, slots=True)
class CampaignRule:
    """repeats: runs of each cell; extra: runs after a failed one, all of which must pass; stop: when no more is run.

    failures_ratio: the share of runs that may fail, None: not said.
    """

    id: str
    repeats: int
    extra: int
    stop: str
    failures_ratio: float | None
    source: Source


@dataclass(frozen=True, slots=True)
class Onset:
    """How an event is found in a signal of a role: the last sample beyond `level`, then back to the nearest crossing of
    `back_to`; where back_to is None, the first crossing of level."""

    id: str
    event: EventName
    role: Role
    signal: Signal
    level: float
    back_to: float | None
    filter: Filter | None
    source: Source


@dataclass(frozen=True, slots=True)
class Grid:
    """One part of a published matrix: each of `vary` with each other, those of `together` in step.

    Values are quantities as written, `10 km/h`, by name (`subject speed`, `impact location`).
    """

    name: str
    vary: Mapping[str, tuple[str, ...]]
    together: Mapping[str, tuple[str, ...]]
    source: Source

    @property
    def cells(self) -> int:
        """How many combinations it has."""
        count = min((len(values) for values in self.together.values()), default=1)
        for values in self.vary.values():
            count *= len(values)
        return count


@dataclass(frozen=True, slots=True)
class ImpactSpeeds:
    """How fast an impact may be at most, by the speed of the test: rising speeds, and for each category as many.

    A result of a run, which makes it neither valid nor invalid.
    """

    of: ImpactOf
    speeds_mps: tuple[float, ...]
    at_most_mps: Mapping[str, tuple[float, ...]]
    source: Source

    def at(self, speed_mps: float) -> tuple[float, dict[str, float]] | None:
        """Give the row of a speed, of one between two rows the next higher one, and its speeds by category.

        None: faster than the table. Reading of between rows: from memory of UN R152, 5.2.1.4.
        """
        rows = [k for k, one in enumerate(self.speeds_mps) if one >= speed_mps - SAME_MPS]
        if not rows:
            return None
        return self.speeds_mps[rows[0]], {n: v[rows[0]] for n, v in self.at_most_mps.items()}


Rule = Window | Band | Instant | Settle | Shape | BetweenRuns | Condition | CampaignRule | Onset
One = TypeVar("One", bound=Rule)


@dataclass(frozen=True)
class Family:
    """One kind of test with all rules that hold for it. roles: whoever takes part; t0: its start of test."""

    name: str
    title: str
    roles: tuple[Role, ...]
    t0: EventRef | None
    rules: tuple[Rule, ...]
    matrix: tuple[Grid, ...] = ()
    impact: ImpactSpeeds | None = None

    def of(self, kind: type[One]) -> Iterator[One]:
        """Give the rules of a kind, in their order."""
        for rule in self.rules:
            if isinstance(rule, kind):
                yield rule

    @property
    def windows(self) -> dict[str, Window]:
        """Windows by id."""
        return {one.id: one for one in self.of(Window)}

    @property
    def bands(self) -> dict[str, Band]:
        """Bands by id."""
        return {one.id: one for one in self.of(Band)}

    @property
    def cells(self) -> int:
        """How many combinations its published matrix has."""
        return sum(grid.cells for grid in self.matrix)


@dataclass(frozen=True)
class RuleSet:
    """A document's rules. name: as scenarios name it; newest: no later version is known; note: what to know of it.

    builds_on: the set that a house's own rules change, by name; on_newest: that is the newest. file: where it was read.
    """

    name: str
    title: str
    document: str
    version: str
    date: str
    newest: bool
    families: Mapping[str, Family]
    builds_on: str | None = None
    note: str = ""
    file: str = ""
    source_files: tuple[str, ...] = field(default=())
    on_newest: bool = True

    @property
    def named(self) -> str:
        """Its document with the version."""
        return named(self.document, self.version)
