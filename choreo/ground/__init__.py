"""The ground of a site: what is drivable, what its surface is like and leaves of limits, where it lies on earth."""

from choreo.ground.build import build_ground, ground_of
from choreo.ground.earth import Earth
from choreo.ground.record import Area, Ground

__all__ = ["Area", "Earth", "Ground", "build_ground", "ground_of"]
