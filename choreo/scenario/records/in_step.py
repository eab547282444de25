"""A mover that drives its plan by another one's progress instead of by the clock."""

from __future__ import annotations

from choreo.words.records import dataclass

# How quickly a place that is lost is made good: the speed asked for is this much of the way over this time. Common
# practice, no source.
CATCH_UP_S = 0.5


@dataclass(frozen=True, slots=True)
class InStep:
    """In which phases, by name, a mover goes in step with another; what it does then.

    At every sample it learns where `mover` is, link_s late, and drives what it would drive by plan when that one is
    there: its speed is corrected by at most correction_ratio of the planned one, inside its limits. frozen_s before
    the planned end of the last of its phases it drives on at the pace that it has; None: never.
    """

    mover: str
    phases: tuple[str, ...]
    correction_ratio: float
    link_s: float
    sampling_hz: float
    frozen_s: float | None = None
