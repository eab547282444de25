"""Steady circles: speeds for lateral accelerations, what a bicycle model steers, what a rising speed takes.

Sources: ISO 4138 (steps of at most 0.5 m/s2, read); the rest is elementary. Checked by C139 to C143 of
tests/references/SOURCES.md.
"""

from __future__ import annotations

import math

from choreo.words.records import dataclass

# ISO 4138, 8.3: lateral acceleration rises in steps of at most this.
STEP_MPS2 = 0.5


def speed_mps(radius_m: float, lateral_mps2: float) -> float:
    """Give the speed in m/s that has a lateral acceleration on a circle."""
    return math.sqrt(radius_m * lateral_mps2)


@dataclass(frozen=True, slots=True)
class Bicycle:
    """A bicycle model: mass in kg, axles before and behind the centre of mass in m, stiffnesses per axle in N/rad."""

    mass_kg: float
    front_m: float
    rear_m: float
    front_n_per_rad: float
    rear_n_per_rad: float

    @property
    def wheelbase_m(self) -> float:
        """Its wheelbase in m."""
        return self.front_m + self.rear_m

    @property
    def understeer(self) -> float:
        """The understeer gradient in rad per m/s2."""
        moment = self.rear_m * self.rear_n_per_rad - self.front_m * self.front_n_per_rad
        stiff = self.wheelbase_m * self.front_n_per_rad * self.rear_n_per_rad
        return self.mass_kg * moment / stiff

    @property
    def characteristic_mps(self) -> float:
        """The characteristic speed in m/s; inf where it doesn't understeer."""
        gradient = self.understeer
        return math.sqrt(self.wheelbase_m / gradient) if gradient > 0 else math.inf

    def wheel_rad(self, radius_m: float, lateral_mps2: float) -> float:
        """Give the road-wheel angle in rad on a circle."""
        return self.wheelbase_m / radius_m + self.understeer * lateral_mps2

    def slope(self, speed_mps: float) -> float:
        """Give by how much the wheel angle grows with lateral acceleration at constant speed, in rad per m/s2."""
        return self.wheelbase_m / speed_mps**2 + self.understeer

    def yaw_gain(self, speed_mps: float) -> float:
        """Give yaw rate over wheel angle, in 1/s."""
        return speed_mps / (self.wheelbase_m + self.understeer * speed_mps**2)


@dataclass(frozen=True, slots=True)
class Step:
    """Where a rising speed comes to a lateral acceleration: time in s, way in m and laps since it began to rise."""

    lateral_mps2: float
    speed_mps: float
    time_s: float
    way_m: float
    laps: float


def rising(
    radius_m: float, from_mps: float, to_mps: float, rate_mps2: float, step_mps2: float = STEP_MPS2
) -> list[Step]:
    """Give each step of lateral acceleration that a speed rising at a constant rate comes to on a circle."""
    found = []
    first = math.ceil(from_mps**2 / radius_m / step_mps2 - 1e-9)
    last = math.floor(to_mps**2 / radius_m / step_mps2 + 1e-9)
    for number in range(max(first, 1), last + 1):
        lateral = number * step_mps2
        speed = speed_mps(radius_m, lateral)
        way = (speed**2 - from_mps**2) / (2.0 * rate_mps2)
        laps = way / (2.0 * math.pi * radius_m)
        found.append(Step(lateral, speed, (speed - from_mps) / rate_mps2, way, laps))
    return found
