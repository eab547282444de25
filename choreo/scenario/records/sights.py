"""The records of sight lines: who is to see whom, how much of it, when, and what may be moved for it."""

from __future__ import annotations

from choreo.words.records import dataclass

# How far a thing may be moved when its author doesn't say: some lengths of a parked van.
WITHIN_M = 20.0


@dataclass(frozen=True, slots=True)
class Sight:
    """A share of `to` as seen from a point of `from_`; sensor_m in its body frame, None: its front centre.

    wanted_s: time left to their contact when the share is first seen, None: only reported. moving: a standing mover
    that may be moved along its own heading, up to within_m either way.
    """

    from_: str
    to: str
    share: float
    sensor_m: tuple[float, float] | None = None
    wanted_s: float | None = None
    tolerance_s: float | None = None
    moving: str | None = None
    within_m: float = WITHIN_M
