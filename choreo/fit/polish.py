"""A pose made better by looking round it, ever closer."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from choreo.fit.boxes import Boxes, points_as_boxes
from choreo.fit.rigid import Rigid
from choreo.fit.task import Task

Array = NDArray[np.float64]


def _around(values: tuple[float, ...]) -> Array:
    """All steps along x, y and angle, shape (n, 3)."""
    axes = np.meshgrid(values, values, values, indexing="ij")
    return np.stack(axes, axis=-1).reshape(-1, 3)


# With five values ridges that lie askew are seen too.
COARSE = _around((-1.0, 0.0, 1.0))
FINE = _around((-1.0, -0.5, 0.0, 0.5, 1.0))
# Steps shrink by this when nothing is gained, in so many rounds at most.
SHRINK = 0.4
MOST_ROUNDS = 40
# A gain below this share of the step is no reason to go on with steps of that size.
WORTH = 0.05
# From steps of this size, in m, exact depths are used.
EXACT_FROM_M = 0.3
# Points of the footprint that lie no deeper than so many steps press against an edge.
PRESSED = 8.0


def polished(
    task: Task, group: int, pose: Rigid, reach_m: float, *, until_m: float
) -> tuple[Rigid, float]:
    """Give the best pose found near one, within its group, and its depth in m.

    reach_m: how far to look first; until_m: how close to look at last, by exact depths.
    """
    fit = task.fit
    if reach_m > EXACT_FROM_M:
        pose, _ = _nearby(task, group, pose, (reach_m, EXACT_FROM_M), FINE, fit.guess_m)
        reach_m = EXACT_FROM_M
    here = points_as_boxes(np.array([[pose.x_m, pose.y_m, pose.angle_rad]]), group)
    # What is deeper does not press before the pose has moved far.
    pressed = fit.pressed(here, PRESSED * reach_m)
    return _nearby(task, group, pose, (reach_m, until_m), FINE, pressed.depths_m)


def _nearby(
    task: Task,
    group: int,
    pose: Rigid,
    reaches_m: tuple[float, float],
    steps: Array,
    values_of: Callable[[Boxes], Array],
) -> tuple[Rigid, float]:
    reach_m, until_m = reaches_m
    heading = task.heading(group)
    per_m = 1 / max(task.fit.radius_m, 1.0)

    def values(poses: Array) -> Array:
        boxes = points_as_boxes(poses, group)
        found = values_of(boxes)
        found[~task.inside(boxes)] = -np.inf
        return found

    best = np.array([pose.x_m, pose.y_m, pose.angle_rad])
    value = float(values(best[None, :])[0])
    for _ in range(MOST_ROUNDS):
        if reach_m < until_m:
            break
        around = best + reach_m * steps * (1.0, 1.0, per_m)
        around[:, 2] = np.clip(around[:, 2], heading.low_rad, heading.high_rad)
        found = values(around)
        at = int(np.argmax(found))
        gain = float(found[at]) - value
        if gain > 0:
            best, value = around[at], float(found[at])
        if not gain > WORTH * reach_m:
            reach_m *= SHRINK
    return Rigid(float(best[0]), float(best[1]), float(best[2])), value
