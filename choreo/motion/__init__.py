"""Motion along a path: ramp shapes in closed form and bounds of time and distance. Knows no mover's name."""

from choreo.motion.bounds import (
    least_between,
    least_lost_m,
    least_ramp_distance_m,
    least_ramp_time_s,
    least_time_over_s,
)
from choreo.motion.combined import across_left_mps2, along_left_mps2, used_share
from choreo.motion.ramp import RampShape, rated_ramp, table_value_mps2

__all__ = [
    "RampShape",
    "across_left_mps2",
    "along_left_mps2",
    "least_between",
    "least_lost_m",
    "least_ramp_distance_m",
    "least_ramp_time_s",
    "least_time_over_s",
    "rated_ramp",
    "table_value_mps2",
    "used_share",
]
