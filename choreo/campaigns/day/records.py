"""What a day is made of: runs to do, the rules of the track, and the timetable."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field

from choreo.campaigns.day.hours import Hours
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Job:
    """A run that is to be driven `tries` times.

    staging: from whose start marks, by index. duration_s: from go until all are at rest; back_s: until all are back at
    their marks. ways_m: what each mover drives, the way back included. touched: movers that are hit. first: it goes
    before those that are not.
    """

    name: str
    staging: int
    duration_s: float
    back_s: float
    ways_m: Mapping[str, float]
    touched: frozenset[str] = frozenset()
    tries: int = 1
    first: bool = False

    @property
    def length_s(self) -> float:
        """From go until all are back."""
        return self.duration_s + self.back_s


@dataclass(frozen=True, slots=True)
class Upkeep:
    """What one mover needs between runs; None: nothing of the kind.

    battery_m: way until it is swapped; strokes: runs until it is swapped; cool_after: runs until it rests cool_s;
    inspect_after: hits until it is inspected. swap_s and inspection_s are people's work.
    """

    battery_m: float | None = None
    strokes: int | None = None
    swap_s: float = 0.0
    cool_after: int | None = None
    cool_s: float = 0.0
    inspect_after: int | None = None
    inspection_s: float = 0.0


@dataclass(frozen=True)
class Rules:
    """The track's rules: hours, the least and most time from a run's end to the next run, work between stagings (s)."""

    hours: Hours
    least_gap_s: float = 0.0
    most_gap_s: float | None = None
    restage_s: float = 0.0
    upkeep: Mapping[str, Upkeep] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Entry:
    """One run in the timetable: from go to rest to back at the marks, in s from the first day's midnight.

    number: which try of its job, from 1. before: what is done before it. late: it begins later after the run before
    than the rules allow.
    """

    job: int
    number: int
    start_s: float
    end_s: float
    back_s: float
    before: tuple[str, ...] = ()
    late: bool = False


@dataclass(frozen=True, slots=True)
class Timetable:
    """All runs in order. at_least_s: no order of the stagings is done earlier; exact: none is by what counts."""

    entries: tuple[Entry, ...]
    at_least_s: float
    exact: bool

    @property
    def end_s(self) -> float:
        """When the last run is back, in s from the first day's midnight."""
        return self.entries[-1].back_s if self.entries else 0.0
