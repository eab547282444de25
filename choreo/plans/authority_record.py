"""How much of another mover's delay or lead one that goes in step can still make good, over time. Plain data in SI."""

from __future__ import annotations

from choreo.words.records import dataclass


@dataclass(frozen=True, slots=True)
class Authority:
    """One that goes in step, instant by instant up to its encounter by plan.

    times_s: after go. late_s, early_s: the largest delay and the largest lead of the other one, beginning then, with
    which the encounter still comes out within its tolerance; None: any. late_m, early_m: the ways that these are at its
    speed then. runs_out_s: from when on neither is more than `little_s`.
    """

    mover: str
    lead: str
    encounter: str
    meets_s: float
    tolerance_m: float
    times_s: tuple[float, ...]
    late_s: tuple[float | None, ...]
    early_s: tuple[float | None, ...]
    late_m: tuple[float | None, ...]
    early_m: tuple[float | None, ...]
    little_s: float
    runs_out_s: float
