"""Curvature that isn't linear in arc length, enclosed by linear stretches that never lie below it."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from choreo.geometry.poses import Array, Stretch
from choreo.geometry.tolerances import CURVATURE_MARGIN_RATIO

# Between nine samples a bulge is a little higher than at any of them (a parabola by 1/64): a quarter more is added.
SAMPLES = 9
BULGE_RATIO = 1.25
# What stands in between fits into a processor's cache.
STRETCHES_AT_ONCE = 1024


def enclosing_stretches(
    curvature_at: Callable[[Array], Array], knots_m: Array
) -> tuple[Stretch, ...]:
    """Give linear stretches between knots whose magnitude is at least the curvature's.

    curvature_at: stations in m, shape (n,), to curvature in 1/m. knots_m: rising, shape (k,).
    The chord between two knots is raised by what the samples between them exceed it, and a little more.
    """
    found: list[Stretch] = []
    for first in range(0, len(knots_m) - 1, STRETCHES_AT_ONCE):
        found += _enclosing(curvature_at, knots_m[first : first + STRETCHES_AT_ONCE + 1])
    return tuple(found)


def _enclosing(curvature_at: Callable[[Array], Array], knots_m: Array) -> Iterator[Stretch]:
    starts, ends = knots_m[:-1], knots_m[1:]
    shares = np.linspace(0.0, 1.0, SAMPLES)
    # Just inside the ends, so that a jump at a knot belongs to the right cell.
    inside = np.clip(shares, CURVATURE_MARGIN_RATIO**2, 1.0 - CURVATURE_MARGIN_RATIO**2)
    stations = starts[:, None] + (ends - starts)[:, None] * inside
    values = curvature_at(stations.ravel()).reshape(stations.shape)
    size = np.abs(values)
    chord = size[:, :1] + (size[:, -1:] - size[:, :1]) * shares
    excess = np.maximum(size - chord, 0.0).max(axis=1)
    sign = np.where(values[np.arange(len(values)), size.argmax(axis=1)] < 0.0, -1.0, 1.0)
    raised = 1.0 + CURVATURE_MARGIN_RATIO * (size.max(axis=1) - size.min(axis=1) > 0.0)
    first = sign * (size[:, 0] + BULGE_RATIO * excess) * raised
    last = sign * (size[:, -1] + BULGE_RATIO * excess) * raised
    return zip(starts.tolist(), ends.tolist(), first.tolist(), last.tolist(), strict=True)
