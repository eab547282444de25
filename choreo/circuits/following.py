"""Clothoids that follow a path whose own stretches only enclose its curvature: a survey, a path beside another."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from choreo.geometry import Path

Array = NDArray[np.float64]
# Places (m) and headings (rad) that differ by less are the same; a shorter piece (m) is left as it is.
SAME, SHORT_M = 1e-8, 1e-3
# Each step leaves a small part of what is off, the smaller the less a clothoid turns.
MOST_STEPS = 40
NODES, WEIGHTS = np.polynomial.legendre.leggauss(16)


def following(path: Path, stations_m: Array, bends_per_m: Array) -> tuple[Array, Array]:
    """Give clothoids that pass a path's places at stations (m, shape (n + 1,)) in its direction.

    bends_per_m: a first guess of their curvatures at begin and end in 1/m, shape (2, n); returned as it is where it
    is true. Returned: the curvatures, and the lengths in m, shape (n,).
    """
    poses = path.pose(stations_m)
    x, y, heading = np.diff(poses.x_m), np.diff(poses.y_m), poses.heading_rad
    turned = _turn(np.diff(heading))
    # As seen along the middle of both directions, where a step's effects are apart.
    along = heading[:-1] + turned / 2.0
    ahead = x * np.cos(along) + y * np.sin(along)
    aside = y * np.cos(along) - x * np.sin(along)
    bends, lengths = bends_per_m.copy(), np.diff(stations_m)
    for _ in range(MOST_STEPS):
        share = (1.0 + NODES[:, None]) / 2.0
        k0, k1 = bends
        headings = lengths * share * (k0 + (k1 - k0) * share / 2.0) - turned / 2.0
        more = ahead - lengths * (WEIGHTS @ np.cos(headings)) / 2.0
        beside = aside - lengths * (WEIGHTS @ np.sin(headings)) / 2.0
        turn = _turn(turned - lengths * (k0 + k1) / 2.0)
        off = (np.max(np.abs([more, beside, turn]), axis=0) > SAME) & (lengths > SHORT_M)
        if not off.any():
            break
        first = 6.0 * beside / lengths**2 - 2.0 * turn / lengths
        bends = bends + np.where(off, [first, 2.0 * turn / lengths - first], 0.0)
        lengths = lengths + np.where(off, more, 0.0)
    return bends, lengths


def _turn(angles_rad: Array) -> Array:
    """The same turns by no more than half a circle either way, shape (n,)."""
    return (angles_rad + math.pi) % (2.0 * math.pi) - math.pi
