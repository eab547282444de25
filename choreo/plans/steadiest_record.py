"""Which plan spreads least when nothing is perfect, against the shortest runway. Plain data in SI."""

from __future__ import annotations

from choreo.words.kinds import Unit
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Chosen:
    """The value that a plan takes for a quantity that the file leaves open."""

    name: str
    unit: Unit
    value: float


@dataclass(frozen=True, slots=True)
class Spreading:
    """One plan: its runway, and the encounter that spreads most against its tolerance.

    spread: a standard deviation, to first order, in `unit`, as tolerance is. chosen: of open quantities.
    """

    runway_m: float
    encounter: str
    unit: Unit
    spread: float
    tolerance: float
    chosen: tuple[Chosen, ...]

    @property
    def ratio(self) -> float:
        """The spread as a share of the tolerance."""
        return self.spread / self.tolerance


@dataclass(frozen=True, slots=True)
class Steadiest:
    """The plan of least spread that was found among `looked` plans, and that of the shortest runway.

    frontier: plans that no other one beats in both, the shortest runway first. assumed: usual errors stood in for some
    that nobody wrote.
    """

    least: Spreading
    shortest: Spreading
    frontier: tuple[Spreading, ...]
    looked: int
    assumed: bool
