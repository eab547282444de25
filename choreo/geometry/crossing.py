"""Where the reference points of two movers cross: the crossing of their paths."""

from __future__ import annotations

import math

import numpy as np

from choreo.geometry.poses import Array, Path
from choreo.geometry.tolerances import CROSSING_RAD, NOTHING, ROOT_M, TOUCH_M

# A pair of samples is looked at where the paths come within the steps of both, so none is missed; a metre is far
# below the radius of any road, so that each seed leads to its own crossing.
STEP_M = 1.0
# A table of distances of this size squared; on longer paths the step grows.
MOST_SAMPLES = 500
# Tangents meet quadratically: five steps are usual, and what needs thirty is no crossing.
ITERATIONS = 30
# Local least distances that are followed, nearest first: two paths of a test cross a few times at most.
MOST_SEEDS = 20


def crossing_point(path_a: Path, path_b: Path) -> tuple[float, float] | None:
    """Give the stations (of a, of b) in m where two paths cross, the first along a.

    None where they don't cross, or only run along each other.
    """
    return min(crossing_points(path_a, path_b), default=None)


def crossing_points(path_a: Path, path_b: Path) -> list[tuple[float, float]]:
    """Give the stations (of a, of b) in m of all places where two paths cross; one may be there twice."""
    s_a, s_b = _samples(path_a), _samples(path_b)
    p, q = path_a.pose(s_a), path_b.pose(s_b)
    squared = (p.x_m[:, None] - q.x_m) ** 2 + (p.y_m[:, None] - q.y_m) ** 2
    steps = (s_a[1] - s_a[0]) + (s_b[1] - s_b[0])
    return [
        crossing
        for i, j in _least_places(squared, steps)
        if (crossing := _refined(path_a, path_b, float(s_a[i]), float(s_b[j]))) is not None
    ]


def _samples(path: Path) -> Array:
    count = min(max(2, math.ceil(path.length_m / STEP_M) + 1), MOST_SAMPLES)
    return np.linspace(0.0, path.length_m, count)


def _least_places(squared: Array, within_m: float) -> list[tuple[int, int]]:
    """Places of local least distance that may hide a crossing."""
    i, j = np.nonzero(squared <= within_m**2)
    if not len(i):
        return []
    padded = np.pad(squared, 1, constant_values=np.inf)
    here = squared[i, j]
    least = np.ones(len(i), dtype=bool)
    for di in (0, 1, 2):
        for dj in (0, 1, 2):
            least &= here <= padded[i + di, j + dj]
    i, j = i[least], j[least]
    order = np.argsort(squared[i, j], kind="stable")[:MOST_SEEDS]
    return [(int(i[k]), int(j[k])) for k in order]


def _refined(path_a: Path, path_b: Path, at_a: float, at_b: float) -> tuple[float, float] | None:
    """Meet the tangents until the points coincide."""
    for _ in range(ITERATIONS):
        p, q = path_a.pose(np.array([at_a])), path_b.pose(np.array([at_b]))
        dx, dy = float(q.x_m[0] - p.x_m[0]), float(q.y_m[0] - p.y_m[0])
        along_a, along_b = float(p.heading_rad[0]), float(q.heading_rad[0])
        turn = math.sin(along_b - along_a)
        if abs(turn) < CROSSING_RAD:
            return None
        step_a = (dx * math.sin(along_b) - dy * math.cos(along_b)) / turn
        step_b = (dx * math.sin(along_a) - dy * math.cos(along_a)) / turn
        at_a, at_b = at_a + step_a, at_b + step_b
        if max(abs(step_a), abs(step_b)) <= ROOT_M:
            break
    p, q = path_a.pose(np.array([at_a])), path_b.pose(np.array([at_b]))
    apart = math.hypot(float(q.x_m[0] - p.x_m[0]), float(q.y_m[0] - p.y_m[0]))
    inside = all(
        -NOTHING <= station <= path.length_m + NOTHING
        for station, path in ((at_a, path_a), (at_b, path_b))
    )
    return (at_a, at_b) if apart <= TOUCH_M and inside else None
