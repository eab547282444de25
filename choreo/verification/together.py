"""Braking or accelerating in a curve, where a mover's limits share an ellipse: looked at all along its motion."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from choreo.geometry import Path
from choreo.scenario import Limits
from choreo.verification.integration import Motion
from choreo.verification.sideways import sideways_mps2
from choreo.verification.tolerances import CLOCK_S, LATERAL_CLOCK_S, SIDE_M

Array = NDArray[np.float64]
# Looks at an interval of the clock, which is CLOCK_S long at most where the speed changes.
LOOKS = max(2, round(CLOCK_S / LATERAL_CLOCK_S) + 1)


def shares_used(limits: Limits, motion: Motion, path: Path) -> tuple[Array, Array]:
    """Give times in s and the root of (a_x/a_x,max)^2 + (a_y/a_y,max)^2 then, shape (n,) both.

    Acceleration and curvature may jump: each interval between two nodes is read from its inside at both of its ends,
    and at both sides of every joint of the path in it.
    """
    times, accels = _looks(motion)
    stations, speeds, _ = motion.at(times.ravel())
    stations = stations.reshape(times.shape)
    middle = (stations[:, :1] + stations[:, -1:]) / 2.0
    # Towards the middle of its interval: never over a joint at which the interval begins or ends.
    inside = stations + np.clip(middle - stations, -SIDE_M, SIDE_M)
    values = [_used(limits, inside.ravel(), speeds, accels.ravel(), path)]
    moments = [times.ravel()]
    joints = np.unique([end for stretch in path.stretches() for end in stretch[:2]])
    first, last = stations[:, 0], stations[:, -1]
    for joint in joints:
        for row in np.flatnonzero((first < joint - SIDE_M) & (last > joint + SIDE_M)):
            share = (joint - first[row]) / (last[row] - first[row])
            when = np.full(2, times[row, 0] + share * (times[row, -1] - times[row, 0]))
            accel = np.interp(when, times[row], accels[row])
            sides = np.array([joint - SIDE_M, joint + SIDE_M])
            values.append(_used(limits, sides, motion.at(when)[1], accel, path))
            moments.append(when)
    return np.concatenate(moments), np.concatenate(values)


def _looks(motion: Motion) -> tuple[Array, Array]:
    """Times in each interval of the clock, and the accelerations of that interval; shape (n, LOOKS)."""
    share = np.linspace(0.0, 1.0, LOOKS)
    looks = motion.looks
    begins, lasts = looks.times_s[:-1, None], np.diff(looks.times_s)[:, None]
    change = (looks.accels_to_mps2 - looks.accels_from_mps2)[:, None]
    return begins + lasts * share, looks.accels_from_mps2[:, None] + change * share


def _used(limits: Limits, stations: Array, speeds: Array, accels: Array, path: Path) -> Array:
    knots, rates = np.array(limits.accelerate).T
    most = np.where(accels > 0.0, np.interp(speeds, knots, rates), limits.brake_mps2)
    along = accels / most
    across = sideways_mps2(path, stations, speeds) / limits.lateral_mps2
    # Either alone is a check of its own: here a curve is driven, and speed is changed in it.
    both = (across != 0.0) & (along != 0.0)
    return np.where(both, np.sqrt(along**2 + across**2), 0.0)
