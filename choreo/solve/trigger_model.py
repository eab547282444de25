"""What is known of a trigger in the programme."""

from __future__ import annotations

from dataclasses import dataclass

from choreo.solve.unknowns import Expression


@dataclass(frozen=True, slots=True)
class TriggerModel:
    """When the watched mover crosses the setting, where, the setting, and when it acts."""

    crossing_s: Expression
    station_m: Expression
    setting: Expression
    acts_s: Expression
