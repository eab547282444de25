"""What errors make of a plan: shares, distributions, the chance of a valid run. Plain data in SI."""

from __future__ import annotations

from choreo.words.kinds import DrawShape, EncounterKind, ErrorKind, Measure, Unit
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class SourceTold:
    """One source of error as it was used.

    unit: None for a ratio. bias: its mean, of a ratio over 1. spread: its standard deviation. cut_ratio: how much of it
    was cut off since it can't be. over: its correlation (s or m) where it wanders. given: else a default.
    """

    kind: ErrorKind
    owner: str
    unit: Unit | None
    shape: DrawShape
    bias: float
    spread: float
    cut_ratio: float
    over: float | None
    given: bool


@dataclass(frozen=True, slots=True)
class Share:
    """What one source does to one outcome, to first order.

    source: its index among the sources. derivative: of the outcome by it, in the outcome's unit over the source's.
    spread: |derivative| times its spread, in the outcome's unit. share_ratio: that squared over the sum of all. smooth:
    whether the derivative stands for what the source does over its whole spread; where not, spread is sampled.
    """

    source: int
    derivative: float
    spread: float
    share_ratio: float
    smooth: bool


@dataclass(frozen=True, slots=True)
class FirstOrderTold:
    """One encounter's value to first order; shares: the largest first. smooth: whether all of them are."""

    encounter: str
    unit: Unit
    nominal: float
    bias: float
    spread: float
    shares: tuple[Share, ...]
    smooth: bool


@dataclass(frozen=True, slots=True)
class Distribution:
    """Of one encounter's value over the runs that met it.

    quantiles: by probability. edges (n + 1), counts (n): a histogram; what lies beyond counts in the last bins.
    """

    unit: Unit
    mean: float
    spread: float
    least: float
    most: float
    quantiles: dict[str, float]
    edges: tuple[float, ...]
    counts: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class EncounterTold:
    """One encounter over all runs. wanted: least and most, without tolerance. met, within: in how many runs.

    mean_time_s, time_spread_s, mean_closing_mps, closing_spread_mps: when it happens and how fast the two close.
    disagree: first order and draws differ by more than their own errors: the plan isn't smooth there. shares: then what
    each source explains alone of the variance in the runs, by index; what is missing to 1 they do only together.
    totals: then what each has a hand in, alone or together with others (total effects); over 1 together.
    """

    encounter: str
    kind: EncounterKind
    measure: Measure
    of: str
    with_: str
    wanted: tuple[float, float]
    tolerance: float
    met: int
    within: int
    values: Distribution | None
    mean_time_s: float
    time_spread_s: float
    mean_closing_mps: float
    closing_spread_mps: float
    disagree: bool
    shares: tuple[float, ...] = ()
    totals: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Cause:
    """A condition that failed first, in how many runs, and which source was the largest in how many of these.

    sources: by index among the sources.
    """

    condition: str
    runs: int
    sources: dict[int, int]


@dataclass(frozen=True, slots=True)
class Chance:
    """How many runs were valid, and the interval (Clopper-Pearson, 95 %) of the chance of one."""

    valid: int
    runs: int
    low: float
    high: float

    @property
    def ratio(self) -> float:
        """The share of runs that were valid."""
        return self.valid / self.runs


@dataclass(frozen=True, slots=True)
class Cloud:
    """Where two movers are when they meet, in some of the runs: x, y (m) and heading (rad) of each, site frame."""

    encounter: str
    of: str
    with_: str
    of_poses: tuple[tuple[float, float, float], ...]
    with_poses: tuple[tuple[float, float, float], ...]


@dataclass(frozen=True, slots=True)
class Tries:
    """How many tries `valid` valid runs take: on average, None where none can be had, and with 95 % certainty.

    Of the counted chance; enough: None where no number that anybody drives suffices.
    """

    valid: int
    expected: float | None
    enough: int | None


@dataclass(frozen=True, slots=True)
class ErrorsPlan:
    """The whole answer of many runs of one plan. quasi: whether points of low discrepancy were used."""

    runs: int
    seed: int
    quasi: bool
    sources: tuple[SourceTold, ...]
    first_order: dict[str, FirstOrderTold]
    encounters: dict[str, EncounterTold]
    chance: Chance
    causes: tuple[Cause, ...]
    tries: tuple[Tries, ...] = ()
