"""How a mover stops by failsafe on a surface: as its scenario says, or as is assumed."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from choreo.ground.surface import GRAVITY_MPS2, LEVEL, Surface
from choreo.scenario import Limits
from choreo.words.records import dataclass

Array = NDArray[np.float64]

# A stop that brakes with less than this (m/s2) is none: nothing drives so.
LEAST_BRAKE_MPS2 = 0.1

# Without a failsafe in the scenario: a driverless stop is allowed 1.0 s of reaction and half the grip that
# there is (common practice, no source), on a track of the least friction that EN-FC v1.1 2.1 admits, 0.9.
ASSUMED_REACTION_S = 1.0
ASSUMED_SHARE_OF_GRIP = 0.5
ASSUMED_FRICTION = 0.9


@dataclass(frozen=True, slots=True)
class Stop:
    """How a mover stops by failsafe where it drives: braking in m/s2 (magnitude), reaction in s.

    assumed: the scenario gives no failsafe. level_mps2: its braking on level ground with enough grip. surface: the one
    it brakes on.
    """

    brake_mps2: float
    reaction_s: float
    assumed: bool
    level_mps2: float = math.inf
    surface: Surface = LEVEL

    def way_m(self, reaction_m: Array, speed_mps: Array) -> Array:
        """Give the way in m of stops whose reaction takes reaction_m and ends at speed_mps, shape (n,)."""
        return reaction_m + speed_mps**2 / (2.0 * self.brake_mps2)

    def on(self, surface: Surface) -> Stop:
        """Give the same stop on another surface."""
        return replace(self, brake_mps2=surface.braking(self.level_mps2), surface=surface)


def stop_of(limits: Limits, surface: Surface) -> Stop:
    """Choose a mover's failsafe stop: as the scenario gives it, else assumed; less where the surface gives less.

    limits: as written, on level ground. The braking of the stop may come out zero or less: it can't stop then.
    """
    if limits.failsafe is not None:
        level, reaction = limits.failsafe.brake_mps2, limits.failsafe.reaction_s
    else:
        friction = ASSUMED_FRICTION if surface.friction is None else surface.friction
        level = min(limits.brake_mps2, ASSUMED_SHARE_OF_GRIP * friction * GRAVITY_MPS2)
        reaction = ASSUMED_REACTION_S
    return Stop(surface.braking(level), reaction, limits.failsafe is None, level, surface)
