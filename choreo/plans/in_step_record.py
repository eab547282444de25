"""How a mover of a plan goes in step with another."""

from __future__ import annotations

from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class InStepPlan:
    """With whom, and from when to when by plan, in s after go.

    lead: the other mover. launched_at_m: where it is when the mover is launched, where that too is by its progress.
    frozen_s: from when on the mover no longer listens; None: it does to the end.
    """

    lead: str
    begins_s: float
    ends_s: float
    frozen_s: float | None
    launched_at_m: float | None
    correction_ratio: float
    link_s: float
    sampling_hz: float
