"""Curves whose curvature is piecewise linear in arc length: lines, arcs, clothoids and chains of them."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from choreo.geometry.banks import Bank
from choreo.geometry.nearest import NearestSearch
from choreo.geometry.poses import Array, Pose, Poses, Stretch

# Gauss-Legendre nodes on [0, 1]. Eight are exact to rounding while the heading turns less than
# MOST_TURN_RAD over the interval.
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(8)
GAUSS_NODES: Array = (_NODES + 1.0) / 2.0
GAUSS_WEIGHTS: Array = _WEIGHTS / 2.0
_PAIRS = tuple(zip(GAUSS_NODES.tolist(), GAUSS_WEIGHTS.tolist(), strict=True))
MOST_TURN_RAD = 0.4


def one_sided(stretches: tuple[Stretch, ...]) -> tuple[Stretch, ...]:
    """Cut stretches (in m and 1/m) where the curve changes sides, so that |curvature| is linear on each, too."""
    if all(k0 * k1 >= 0.0 for _, _, k0, k1 in stretches):
        return stretches
    cut: list[Stretch] = []
    for start, end, k0, k1 in stretches:
        if k0 * k1 >= 0.0:
            cut.append((start, end, k0, k1))
            continue
        straight = start + (end - start) * k0 / (k0 - k1)
        cut += [(start, straight, k0, 0.0), (straight, end, 0.0, k1)]
    return tuple(cut)


class CurvePath:
    """A path whose curvature is linear in arc length on each stretch; satisfies Path."""

    def __init__(
        self,
        stretches: Sequence[tuple[float, float, float]],
        start_m: tuple[float, float] = (0.0, 0.0),
        heading_rad: float = 0.0,
        marks: dict[str, tuple[float, float]] | None = None,
        banks: tuple[Bank, ...] = (),
    ) -> None:
        """stretches: (length in m, curvature at its start, at its end in 1/m), in order. banks: of it, see there."""
        self.banks = banks
        lengths = np.array([piece[0] for piece in stretches], dtype=float)
        ends = np.concatenate(([0.0], np.cumsum(lengths)))
        self._length_m = float(ends[-1])
        self._marks = dict(marks or {})
        laid: tuple[Stretch, ...] = tuple(
            (float(ends[i]), float(ends[i + 1]), float(piece[1]), float(piece[2]))
            for i, piece in enumerate(stretches)
        )
        self._stretches = one_sided(laid)
        self._lay_knots(laid, start_m, heading_rad)

    def _lay_knots(
        self, laid: tuple[Stretch, ...], start_m: tuple[float, float], heading_rad: float
    ) -> None:
        """Cut clothoids so finely that one quadrature step is exact, and place every knot."""
        rows = [(0.0, 0.0, 0.0)]  # before the start: straight
        for start, end, k0, k1 in laid:
            length = end - start
            rate = (k1 - k0) / length if k1 != k0 else 0.0
            turn = max(abs(k0), abs(k1)) * abs(length)
            count = max(1, int(np.ceil(turn / MOST_TURN_RAD))) if rate else 1
            for step in range(count):
                along = length * step / count
                rows.append((start + along, k0 + rate * along, rate))
        rows.append((self._length_m, 0.0, 0.0))  # beyond the end: straight
        self._s, self._k, self._rate = np.array(rows).T.copy()
        self._heading = np.zeros_like(self._s)
        self._x, self._y = np.zeros_like(self._s), np.zeros_like(self._s)
        u = np.diff(self._s)
        phase = u * (self._k[:-1] + u * self._rate[:-1] / 2)
        self._heading[1:] = np.cumsum(phase)
        self._heading += heading_rad
        index = np.arange(len(u))
        dx, dy = self._steps(index, u)
        self._x[1:], self._y[1:] = np.cumsum(dx), np.cumsum(dy)
        self._x += start_m[0]
        self._y += start_m[1]
        # The end itself belongs to the last stretch, not to the straight beyond it.
        self._search = self._s[1:].copy()
        self._search[0] = 0.0
        self._search[-1] = np.nextafter(self._length_m, np.inf)
        self._all_plain = not bool(self._rate.any())
        self._all_straight = self._all_plain and not bool(self._k.any())
        self._rows = np.array((self._s, self._k, self._rate, self._heading, self._x, self._y))
        self._ways = np.array((np.cos(self._heading), np.sin(self._heading)))
        self._knots: list[tuple[float, ...]] = [tuple(row) for row in self._rows.T.tolist()]
        self._ends: list[float] = self._search.tolist()

    def _steps(self, index: NDArray[np.intp], u: Array) -> tuple[Array, Array]:
        """Displacements from knots along u metres, in the site frame."""
        k, rate, heading = self._k[index], self._rate[index], self._heading[index]
        half = u * k / 2
        chord = u * np.sinc(half / np.pi)
        dx, dy = chord * np.cos(heading + half), chord * np.sin(heading + half)
        bent = rate != 0.0
        if bent.any():
            v = u[bent, None] * GAUSS_NODES
            angle = heading[bent, None] + v * (k[bent, None] + v * (rate[bent, None] / 2))
            dx[bent] = u[bent] * (np.cos(angle) @ GAUSS_WEIGHTS)
            dy[bent] = u[bent] * (np.sin(angle) @ GAUSS_WEIGHTS)
        return dx, dy

    @property
    def length_m(self) -> float:
        """Arc length in m."""
        return self._length_m

    @property
    def marks(self) -> dict[str, tuple[float, float]]:
        """Start and end station in m of every named piece."""
        return self._marks

    @property
    def end_m(self) -> tuple[float, float]:
        """Where the path ends, in the site frame in m."""
        return float(self._x[-1]), float(self._y[-1])

    def pose(self, s_m: Array) -> Poses:
        """Give the poses at stations s_m, shape (n,), in m; straight beyond the ends."""
        s = np.atleast_1d(np.asarray(s_m, dtype=float))
        if len(s) == 1:
            return Poses(*np.array(self.pose_at(float(s[0]))).reshape(4, 1))
        index = self._search.searchsorted(s, "right")
        from_m, k, rate, heading, x, y = self._rows.take(index, axis=1)
        u = s - from_m
        if self._all_straight:
            along, left = self._ways.take(index, axis=1)
            return Poses(x + u * along, y + u * left, heading, k)
        half = u * k / 2
        chord = u
        if half.any():
            whole = np.where(half == 0.0, 1.0, half)
            chord = u * np.where(half == 0.0, 1.0, np.sin(whole) / whole)
        ahead = heading + half
        px, py = x + chord * np.cos(ahead), y + chord * np.sin(ahead)
        if self._all_plain:
            return Poses(px, py, ahead + half, k)
        bent = np.flatnonzero(rate)
        if len(bent):
            ub, kb, rb = u[bent, None], k[bent, None], rate[bent, None]
            v = ub * GAUSS_NODES
            angle = heading[bent, None] + v * (kb + v * (rb / 2))
            px[bent] = x[bent] + u[bent] * (np.cos(angle) @ GAUSS_WEIGHTS)
            py[bent] = y[bent] + u[bent] * (np.sin(angle) @ GAUSS_WEIGHTS)
        return Poses(px, py, heading + u * (k + u * rate / 2), k + rate * u)

    def pose_at(self, s_m: float) -> Pose:
        """Give the pose at one station in m: for one, arrays take six times as long as numbers."""
        from_m, k, rate, heading, x, y = self._knots[bisect_right(self._ends, s_m)]
        u = s_m - from_m
        if rate:
            along = across = 0.0
            for node, weight in _PAIRS:
                v = u * node
                angle = heading + v * (k + v * (rate / 2))
                along += math.cos(angle) * weight
                across += math.sin(angle) * weight
            return x + u * along, y + u * across, heading + u * (k + u * rate / 2), k + rate * u
        half = u * k / 2
        chord = u * math.sin(half) / half if half else u
        ahead = heading + half
        return x + chord * math.cos(ahead), y + chord * math.sin(ahead), ahead + half, k

    def stretches(self) -> tuple[Stretch, ...]:
        """Give (start_m, end_m, start curvature, end curvature), exact, linear in between, in 1/m."""
        return self._stretches

    @cached_property
    def _nearest(self) -> NearestSearch:
        return NearestSearch(self)

    def nearest(self, x_m: float, y_m: float, near_m: float | None = None) -> float:
        """Give the station in m nearest to a point in the site frame (m); near_m chooses among several."""
        return self._nearest.station(x_m, y_m, near_m)

    def heading_at(self, s_m: Array) -> Array:
        """Give the headings in rad at stations s_m, shape (n,)."""
        return self.pose(s_m).heading_rad

    def station_of_parallel(self, offset_m: float, along_m: Array) -> Array:
        """Give the own stations whose parallel points lie along_m along the parallel curve.

        offset_m: left of this path. along_m: arc length of the parallel from its point at station 0,
        shape (n,), in m. Exact: on each stretch the parallel's arc length is quadratic in the station.
        """
        at_knots = self._s - offset_m * (self._heading - self._heading[0])
        index = np.clip(np.searchsorted(at_knots[1:], along_m, "right"), 1, len(self._s) - 2)
        w = along_m - at_knots[index]
        ratio = 1.0 - offset_m * self._k[index]
        root = np.sqrt(np.maximum(ratio**2 - 2.0 * offset_m * self._rate[index] * w, 0.0))
        return np.asarray(self._s[index] + 2.0 * w / (ratio + root))
