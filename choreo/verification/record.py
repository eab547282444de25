"""What the independent simulation found, as a frozen record."""

from __future__ import annotations

from collections.abc import Mapping

from choreo.plans.message import messages_of
from choreo.plans.record import VerificationSummary
from choreo.verification.integration import Motion
from choreo.verification.tolerances import WORST_RATIO
from choreo.words import Finding, errors_of
from choreo.words.records import dataclass

METHOD = (
    "own integration of the commanded accelerations, triggers detected on the simulated motion, "
    "bodies touched by separating axes"
)


@dataclass(frozen=True, slots=True)
class Measured:
    """One encounter as simulated: value in m or s, when, where both movers are, closing speed.

    until_s, held: of a gap that holds for a while, when that ends, and its least and most value until then.
    """

    value: float
    time_s: float
    station_of_m: float
    station_with_m: float
    closing_mps: float
    place_m: tuple[float, float] | None
    faces: frozenset[str] = frozenset()
    until_s: float | None = None
    held: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Verification:
    """The verdict of the simulation on one plan.

    worst_encounter_error: largest error over its tolerance (a tenth is allowed);
    worst_limit_use: largest ratio to a limit. measured: encounter values in m or s. spread:
    least and most of each encounter's value for detection delays between none and a full
    sampling period. motions: as simulated, by mover.
    """

    worst_encounter_error: float
    worst_limit_use: float
    findings: tuple[Finding, ...]
    encounters: Mapping[str, Measured]
    crossings_s: Mapping[str, float]
    acts_s: Mapping[str, float]
    spread: Mapping[str, tuple[float, float]]
    motions: Mapping[str, Motion]

    @property
    def agrees(self) -> bool:
        """Say whether the simulation confirms the plan: no finding is an error."""
        return not errors_of(self.findings)

    @property
    def touching(self) -> tuple[tuple[str, str], ...]:
        """Give the pairs of movers that touch though no encounter asks for it."""
        unasked = [one for one in self.findings if one.code == "verify.unintended-contact"]
        return tuple((str(one.values["a"]), str(one.values["b"])) for one in unasked)

    @property
    def measured(self) -> dict[str, float]:
        """Give each encounter's simulated value in m or s; those that never happen are left out."""
        return {name: encounter.value for name, encounter in self.encounters.items()}

    def summary(self) -> VerificationSummary:
        """Tell it as plain data for the plan."""
        return VerificationSummary(
            method=METHOD,
            worst_encounter_error=min(self.worst_encounter_error, WORST_RATIO),
            worst_limit_use=min(self.worst_limit_use, WORST_RATIO),
            agrees=self.agrees,
            findings=messages_of(self.findings),
            spread=dict(self.spread),
        )
