"""What other ways of releasing a mover would make of the same errors. Plain data in SI."""

from __future__ import annotations

from choreo.plans.errors_record import Chance
from choreo.words.kinds import Condition, Unit
from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Release:
    """One way: by a trigger's condition, or (None) in step with the progress of the one that is watched.

    setting: of the condition, at the same moment by plan, in `unit`. own: whether it is what the scenario does.
    needs: what it takes, in words. why_not: what forbids it; then nothing was run: spread and chance are None. spread:
    the standard deviation of the encounter's value, in its unit, where it is met.
    """

    condition: Condition | None
    setting: float | None
    unit: Unit | None
    own: bool
    needs: str
    spread: float | None = None
    chance: Chance | None = None
    why_not: str | None = None

    @property
    def name(self) -> str:
        """What it is called."""
        return "in step" if self.condition is None else self.condition


@dataclass(frozen=True, slots=True)
class Releases:
    """All ways of releasing one mover, on the same drawn runs, the best first; those that can't be last.

    watched: whom its release goes by. encounter: the one whose value is told, in `unit`. loss_ratio: by how much the
    chance of a valid run is less with the scenario's own way than with the best.
    """

    mover: str
    watched: str
    encounter: str
    unit: Unit
    ways: tuple[Release, ...]
    loss_ratio: float
