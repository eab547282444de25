"""How far a mover may be off what is planned for a run to count."""

from __future__ import annotations

from choreo.scenario.records.events import Event
from choreo.words.records import dataclass

Band = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Tolerances:
    """What makes a run of one mover count; None: not looked at.

    speed_mps, beside_m: least and most that its speed is off the planned one, and that it is beside its path, + to the
    left. limits_ratio: by how much of them its limits may be passed. since: from when on speed and path count, in every
    hold until its last encounter; None: while a hold has to be settled, and at its encounters.
    """

    speed_mps: Band | None = None
    beside_m: Band | None = None
    limits_ratio: float | None = None
    since: Event | None = None
