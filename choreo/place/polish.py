"""A pose made better by looking round it, ever closer."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from choreo.place.fit import Look
from choreo.place.rigid import Rigid
from choreo.place.task import Task, poses_as_boxes

Array = NDArray[np.float64]

# Five values along x, y and angle: ridges that lie askew are seen too.
_AXIS = np.array([-1.0, -0.5, 0.0, 0.5, 1.0])
AROUND = np.stack(np.meshgrid(_AXIS, _AXIS, _AXIS, indexing="ij"), axis=-1).reshape(-1, 3)
SHRINK = 0.5
MOST_ROUNDS = 60


def polished(
    task: Task, group: int, pose: Rigid, reach_m: float, *, until_m: float, look: Look
) -> tuple[Rigid, float]:
    """Give the best pose found near one, within its group, and its guessed margin in m.

    reach_m: how far to look first; until_m: how close to look at last.
    """
    heading = task.heading(group)
    per_m = 1 / max(task.fit.radius_m, 1.0)
    best = np.array([pose.x_m, pose.y_m, pose.angle_rad])
    value = _values(task, group, best[None, :], look)[0]
    for _ in range(MOST_ROUNDS):
        if reach_m < until_m:
            break
        around = best + reach_m * AROUND * (1.0, 1.0, per_m)
        around[:, 2] = np.clip(around[:, 2], heading.low_rad, heading.high_rad)
        values = _values(task, group, around, look)
        at = int(np.argmax(values))
        if values[at] > value + 0.05 * reach_m:
            best, value = around[at], values[at]
        else:
            if values[at] > value:
                best, value = around[at], values[at]
            reach_m *= SHRINK
    return Rigid(float(best[0]), float(best[1]), float(best[2])), float(value)


def _values(task: Task, group: int, poses: Array, look: Look) -> Array:
    """Guessed margins of poses, -inf outside the group's area."""
    values = task.fit.guess_m(poses[:, 0], poses[:, 1], poses[:, 2], look)
    if task.areas:
        values[task.room_m(poses_as_boxes(poses, group)) < 0] = -np.inf
    return values
