"""What a staging is: the start marks that some variants share."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field

from choreo.plans import Plan
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Mark:
    """Where a mover stands before go: station on its path in m, place in the site frame in m, heading in deg."""

    station_m: float
    x_m: float
    y_m: float
    heading_deg: float


@dataclass(frozen=True, slots=True)
class Staging:
    """One set of start marks, by mover, and the variants that run from it, by their index, in order."""

    marks: Mapping[str, Mark]
    variants: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Stagings:
    """All stagings of a campaign. at_least: with fewer it can't be done; plans: by variant, from its staging's marks.

    unsure: variants whose range of start stations isn't known: they count with their own marks only. out: plans that
    may not be run from any marks, by variant: feasible, but not clear.
    """

    stagings: tuple[Staging, ...]
    at_least: int
    plans: Mapping[int, Plan]
    unsure: int = 0
    out: Mapping[int, Plan] = field(default_factory=dict)

    def of(self, variant: int) -> int:
        """Give the staging (index) that a variant runs from."""
        return next(i for i, one in enumerate(self.stagings) if variant in one.variants)
