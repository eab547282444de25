"""A smooth curve through surveyed points, by arc length."""

from __future__ import annotations

from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from choreo.geometry.curve import GAUSS_NODES, GAUSS_WEIGHTS
from choreo.geometry.nearest import NearestSearch
from choreo.geometry.poses import Array, Poses, Stretch
from choreo.geometry.safe import enclosing_stretches
from choreo.geometry.tolerances import ROOT_RATIO

# Between two surveyed points the curve is cut into cells, so short that quadrature and the table below are exact to
# rounding on every survey that is not refused as folded.
CELLS_PER_SEGMENT = 8
# Newton's way from an even share of the cell, or from a table: quadratic.
NEWTON_STEPS = 5
# Coefficients of a cell's polynomial.
ORDER = 10


class SurveyedPath:
    """A cubic spline (C2, not-a-knot ends) over chord length through points, by arc length; a Path."""

    def __init__(self, points_m: Array) -> None:
        """points_m: in the site frame, shape (n, 2), n >= 2, no two neighbours alike."""
        points = np.asarray(points_m, dtype=float)
        t = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))))
        self._t = t
        self._coefficients = _cubic_spline(t, points)
        shares = np.arange(CELLS_PER_SEGMENT) / CELLS_PER_SEGMENT
        cells = (t[:-1, None] + np.diff(t)[:, None] * shares).ravel()
        self._cell_t = np.append(cells, t[-1])
        lengths = self._run(self._cell_t[:-1], self._cell_t[1:])
        self._cell_s = np.concatenate(([0.0], np.cumsum(lengths)))
        self._table = self._lay_table()
        _, d1, _ = self._derivatives(self._cell_t)
        self._cell_heading = np.unwrap(np.arctan2(d1[1], d1[0]))

    def _derivatives(self, t: Array) -> tuple[Array, Array, Array]:
        """Points and their first two derivatives over t, shapes (2, ...)."""
        index = np.clip(np.searchsorted(self._t, t, "right") - 1, 0, len(self._t) - 2)
        u = t - self._t[index]
        c0, c1, c2, c3 = (self._coefficients[order][:, index] for order in range(4))
        return (
            c0 + u * (c1 + u * (c2 + u * c3)),
            c1 + u * (2.0 * c2 + u * 3.0 * c3),
            2.0 * c2 + 6.0 * u * c3,
        )

    def _run(self, start_t: Array, end_t: Array) -> Array:
        """Arc lengths in m from start_t to end_t inside one cell each."""
        width = end_t - start_t
        _, d1, _ = self._derivatives(start_t[..., None] + width[..., None] * GAUSS_NODES)
        return np.asarray(width * (np.hypot(d1[0], d1[1]) @ GAUSS_WEIGHTS))

    def _lay_table(self) -> Array:
        """Polynomials for the parameter over arc length, one a cell, shape (ORDER, cells), share in -1..1.

        Laid through solved points at Chebyshev nodes; a cell is short, so they are exact to rounding.
        """
        nodes = -np.cos(np.pi * np.arange(ORDER) / (ORDER - 1))
        start_t = self._cell_t[:-1, None]
        share = (nodes + 1.0) / 2.0
        ahead = np.diff(self._cell_s)[:, None] * share
        t = start_t + np.diff(self._cell_t)[:, None] * share
        for _ in range(NEWTON_STEPS):
            _, d1, _ = self._derivatives(t)
            run = self._run(np.broadcast_to(start_t, t.shape), t)
            t = t + (ahead - run) / np.hypot(d1[0], d1[1])
        return np.asarray(np.linalg.solve(np.vander(nodes, increasing=True), (t - start_t).T))

    def _parameter(self, s: Array) -> tuple[Array, NDArray[np.intp]]:
        cell = np.clip(np.searchsorted(self._cell_s, s, "right") - 1, 0, len(self._cell_s) - 2)
        start, end = self._cell_s[cell], self._cell_s[cell + 1]
        share = 2.0 * (s - start) / (end - start) - 1.0
        rows = self._table[:, cell]
        t = rows[-1]
        for row in rows[-2::-1]:
            t = t * share + row
        return self._cell_t[cell] + t, cell

    @property
    def length_m(self) -> float:
        """Arc length in m."""
        return float(self._cell_s[-1])

    @property
    def marks(self) -> dict[str, tuple[float, float]]:
        """None: a survey has no named pieces."""
        return {}

    def pose(self, s_m: Array) -> Poses:
        """Give the poses at stations s_m, shape (n,), in m; straight beyond the ends."""
        s = np.atleast_1d(np.asarray(s_m, dtype=float))
        inside = np.clip(s, 0.0, self.length_m)
        t, cell = self._parameter(inside)
        point, d1, d2 = self._derivatives(t)
        speed = np.hypot(d1[0], d1[1])
        curvature = (d1[0] * d2[1] - d1[1] * d2[0]) / speed**3
        near = self._cell_heading[cell]
        turned = np.arctan2(d1[1], d1[0]) - near
        heading = near + turned - 2.0 * np.pi * np.round(turned / (2.0 * np.pi))
        beyond = s - inside
        curvature = np.where(beyond == 0.0, curvature, 0.0)
        return Poses(
            point[0] + beyond * d1[0] / speed, point[1] + beyond * d1[1] / speed, heading, curvature
        )

    def stretches(self) -> tuple[Stretch, ...]:
        """Give linear stretches of curvature in 1/m over stations in m, never below the true one."""
        return self._stretches

    @cached_property
    def _stretches(self) -> tuple[Stretch, ...]:
        return enclosing_stretches(lambda s: self.pose(s).curvature_per_m, self._cell_s)

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
        shape (n,), in m. Newton's way from a table; the map is monotone.
        """
        turned = self._cell_heading - self._cell_heading[0]
        s = np.interp(along_m, self._cell_s - offset_m * turned, self._cell_s)
        for _ in range(2 * NEWTON_STEPS):
            at = self.pose(s)
            missing = along_m - (s - offset_m * (at.heading_rad - self._cell_heading[0]))
            step = missing / (1.0 - offset_m * at.curvature_per_m)
            s = np.clip(s + step, 0.0, self.length_m)
            if not len(step) or float(np.abs(step).max()) < ROOT_RATIO * self.length_m:
                break
        return np.asarray(s)


def _cubic_spline(t: Array, points: Array) -> Array:
    """Coefficients by rising order, shape (4, 2, n - 1), of the C2 spline through points at t.

    Ends: the first two cubics are one, and the last two (three points: one parabola; two: a line).
    """
    h = np.diff(t)[:, None]
    slope = np.diff(points, axis=0) / h
    if len(t) == 2:
        derivative = np.vstack((slope, slope))
    elif len(t) == 3:
        bend = (slope[1] - slope[0]) / (t[2] - t[0])
        derivative = np.vstack(
            (slope[0] - bend * h[0], slope[0] + bend * h[0], slope[1] + bend * h[1])
        )
    else:
        derivative = _spline_derivatives(h[:, 0], slope)
    c3 = (derivative[:-1] + derivative[1:] - 2.0 * slope) / h**2
    c2 = (3.0 * slope - 2.0 * derivative[:-1] - derivative[1:]) / h
    return np.stack((points[:-1].T, derivative[:-1].T, c2.T, c3.T))


def _spline_derivatives(h: Array, slope: Array) -> Array:
    """Solve the three-banded equations of the not-a-knot spline by elimination, shape (n, 2)."""
    n = len(h) + 1
    lower, middle, upper = np.zeros(n), np.zeros(n), np.zeros(n)
    right = np.zeros((n, 2))
    middle[1:-1], upper[1:-1], lower[1:-1] = 2.0 * (h[:-1] + h[1:]), h[:-1], h[1:]
    right[1:-1] = 3.0 * (h[1:, None] * slope[:-1] + h[:-1, None] * slope[1:])
    first, last = h[0] + h[1], h[-1] + h[-2]
    middle[0], upper[0] = h[1], first
    right[0] = ((h[0] + 2.0 * first) * h[1] * slope[0] + h[0] ** 2 * slope[1]) / first
    middle[-1], lower[-1] = h[-2], last
    right[-1] = (h[-1] ** 2 * slope[-2] + (2.0 * last + h[-1]) * h[-2] * slope[-1]) / last
    for i in range(1, n):
        factor = lower[i] / middle[i - 1]
        middle[i] -= factor * upper[i - 1]
        right[i] -= factor * right[i - 1]
    right[-1] /= middle[-1]
    for i in range(n - 2, -1, -1):
        right[i] = (right[i] - upper[i] * right[i + 1]) / middle[i]
    return right
