"""How much of each source of error a plan allows, for a wanted chance of a valid run. Plain data in SI."""

from __future__ import annotations

from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class AllowedSource:
    """One source. source: its index among the sources told.

    now: its standard deviation; alone: the largest with everything else perfect, beside: the largest with everything
    else as it is. None: any that was tried, up to `most_factor` times what it is. beside is 0.0 where even perfect it
    is not enough.
    """

    source: int
    now: float
    alone: float | None
    beside: float | None


@dataclass(frozen=True, slots=True)
class AllowedPlan:
    """All sources, those that must improve first. factor: what all of them may be multiplied by at once.

    Found by bisection on runs drawn once, to `fine_ratio` of itself: chances of single figures carry their error.
    """

    wanted_ratio: float
    chance_ratio: float
    runs: int
    seed: int
    factor: float
    most_factor: float
    fine_ratio: float
    sources: tuple[AllowedSource, ...]
