"""A smooth curve through surveyed points, by arc length."""

from __future__ import annotations

from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from choreo.geometry.curve import GAUSS_NODES, GAUSS_WEIGHTS
from choreo.geometry.nearest import NearestSearch
from choreo.geometry.poses import Array, PosedInArrays, Poses, Stretch
from choreo.geometry.safe import enclosing_stretches
from choreo.geometry.tolerances import NOTHING, ROOT_RATIO

Index = NDArray[np.intp]

# Between two surveyed points the curve is cut into cells, so short that quadrature and the table below are exact to
# rounding on every survey that is not refused as folded: its derivative changes by no more than this share of itself
# in a cell (singularities of the arc length are then 20 half widths away) ...
CELL_BEND_RATIO = 0.1
# ... or there are this many; and no cell is longer than this (m), unless there are as many.
MOST_CELLS_PER_SEGMENT = 8
CELL_M = 0.65
# Newton's way from an even share of the cell, or from a table: quadratic.
NEWTON_STEPS = 5
# Coefficients of a cell's polynomial.
ORDER = 10
# What is so many points away has no influence on a cubic spline: it fades by 0.27 a point.
FADED = 32
# Tables are laid for so many cells at once: what stands in between fits into a processor's cache.
CELLS_AT_ONCE = 512


class SurveyedPath(PosedInArrays):
    """A cubic spline (C2, not-a-knot ends) over chord length through points, by arc length; a Path."""

    def __init__(self, points_m: Array, *, closed: bool = False) -> None:
        """points_m: in the site frame, shape (n, 2), n >= 2, no two neighbours alike.

        closed: the last point is the first one, and the curve goes on smoothly there (a periodic spline).
        """
        points = np.asarray(points_m, dtype=float)
        t = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))))
        self._t = t
        self._coefficients = _periodic_spline(t, points) if closed else _cubic_spline(t, points)
        self._squared_speed = _squared_speed(self._coefficients)
        counts = self._cells_per_segment()
        self._segment = np.repeat(np.arange(len(counts)), counts)
        within = np.arange(len(self._segment)) - np.repeat(np.cumsum(counts) - counts, counts)
        widths = np.diff(t)[self._segment]
        self._cell_t = np.append(
            t[self._segment] + widths * (within / counts[self._segment]), t[-1]
        )
        self._lay_cells()
        _, d1, _ = self._derivatives(self._cell_t, np.append(self._segment, self._segment[-1]))
        self._cell_heading = np.unwrap(np.arctan2(d1[1], d1[0]))

    def _cells_per_segment(self) -> Index:
        """How many cells each segment is cut into."""
        c1, c2, c3 = self._coefficients[1:]
        width = np.diff(self._t)
        before, after = np.hypot(*c1), np.hypot(*(c1 + width * (2.0 * c2 + width * 3.0 * c3)))
        # The second derivative is linear: it is largest at an end.
        most = 2.0 * np.maximum(np.hypot(*c2), np.hypot(*(c2 + 3.0 * width * c3)))
        bend = most * width / np.maximum(np.minimum(before, after), NOTHING)
        counts = np.ceil(np.maximum(bend / CELL_BEND_RATIO, width / CELL_M))
        return np.asarray(np.clip(counts, 1, MOST_CELLS_PER_SEGMENT), dtype=np.intp)

    def _lay_cells(self) -> None:
        """Arc lengths of all cells, and the table, in blocks."""
        count = len(self._segment)
        lengths = np.empty(count)
        self._table = np.empty((ORDER, count))
        for first in range(0, count, CELLS_AT_ONCE):
            block = slice(first, min(first + CELLS_AT_ONCE, count))
            lengths[block], self._table[:, block] = self._cells(block)
        self._cell_s = np.concatenate(([0.0], np.cumsum(lengths)))

    def _cells(self, block: slice) -> tuple[Array, Array]:
        """Lengths in m of some cells, and polynomials for the parameter over arc length, shape (ORDER, cells).

        Share of the arc length in -1..1; laid through solved points at Chebyshev nodes. A cell is short, so they are
        exact to rounding.
        """
        segment = self._segment[block]
        start_t, end_t = self._cell_t[block], self._cell_t[block.start + 1 : block.stop + 1]
        speed_2 = self._squared_speed[:, segment]
        start, width = start_t - self._t[segment], end_t - start_t
        length = _run(speed_2, start, width)
        nodes = -np.cos(np.pi * np.arange(ORDER) / (ORDER - 1))
        share = (nodes + 1.0) / 2.0
        start, speed_2 = start[:, None], speed_2[:, :, None]
        ahead, along = length[:, None] * share, width[:, None] * share
        for _ in range(NEWTON_STEPS):
            step = (ahead - _run(speed_2, start, along)) / _speed(speed_2, start + along)
            along = along + step
            if float(np.abs(step).max()) <= ROOT_RATIO * float(width.max()):
                break
        return length, np.linalg.solve(np.vander(nodes, increasing=True), along.T)

    def _derivatives(self, t: Array, segment: Index) -> tuple[Array, Array, Array]:
        """Points and their first two derivatives over t inside segments, shapes (2, n)."""
        u = t - self._t[segment]
        c0, c1, c2, c3 = (self._coefficients[order][:, segment] for order in range(4))
        return (
            c0 + u * (c1 + u * (c2 + u * c3)),
            c1 + u * (2.0 * c2 + u * 3.0 * c3),
            2.0 * c2 + 6.0 * u * c3,
        )

    def _parameter(self, s: Array) -> tuple[Array, Index]:
        cell = np.clip(np.searchsorted(self._cell_s, s, "right") - 1, 0, len(self._cell_s) - 2)
        start, end = self._cell_s[cell], self._cell_s[cell + 1]
        share = 2.0 * (s - start) / (end - start) - 1.0
        t = self._table[-1, cell]
        for row in self._table[-2::-1]:
            t = t * share + row[cell]
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
        point, d1, d2 = self._derivatives(t, self._segment[cell])
        speed = np.hypot(d1[0], d1[1])
        curvature = _curvature(d1, d2)
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
        return enclosing_stretches(self._curvature, self._cell_s)

    def _curvature(self, s_m: Array) -> Array:
        t, cell = self._parameter(s_m)
        return _curvature(*self._derivatives(t, self._segment[cell])[1:])

    def curvature_between(self, low_m: float, high_m: float) -> tuple[float, float]:
        """Give bounds of the curvature in 1/m between two stations in m of the curve: they hold, they are no samples.

        Over the parameter the numerator, a cross product, is a quadratic, whose range is told exactly; of the squared
        speed, a quartic, it is told by Taylor's formula about each cell's middle.
        """
        ends, cells = self._parameter(np.clip([low_m, high_m], 0.0, self.length_m))
        cell = np.arange(cells[0], cells[1] + 1)
        segment = self._segment[cell]
        start = np.maximum(self._cell_t[cell], ends[0]) - self._t[segment]
        end = np.minimum(self._cell_t[cell + 1], ends[1]) - self._t[segment]
        c1, c2, c3 = self._coefficients[1:, :, segment]
        looks = np.stack((start, end, start))
        square, linear = 6.0 * _cross(c2, c3), 6.0 * _cross(c1, c3)
        bent = square != 0.0
        peak = -linear[bent] / (2.0 * square[bent])
        looks[2, bent] = np.clip(peak, start[bent], end[bent])
        turning = 2.0 * _cross(c1, c2) + looks * (linear + looks * square)
        middle, half = (start + end) / 2.0, np.maximum(end - start, 0.0) / 2.0
        d1 = c1 + middle * (2.0 * c2 + middle * 3.0 * c3)
        d2, d3 = 2.0 * c2 + 6.0 * middle * c3, 6.0 * c3
        orders = (2.0 * _dot(d1, d2), _dot(d2, d2) + _dot(d1, d3), _dot(d2, d3), _dot(d3, d3) / 4.0)
        off = sum(np.abs(one) * half ** (power + 1) for power, one in enumerate(orders))
        slow, fast = np.maximum(_dot(d1, d1) - off, NOTHING) ** 1.5, (_dot(d1, d1) + off) ** 1.5
        least, most = turning.min(axis=0), turning.max(axis=0)
        lows = least / np.where(least < 0.0, slow, fast)
        highs = most / np.where(most < 0.0, fast, slow)
        return float(lows.min()), float(highs.max())

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


def _curvature(d1: Array, d2: Array) -> Array:
    return np.asarray(_cross(d1, d2) / np.hypot(d1[0], d1[1]) ** 3)


def _cross(a: Array, b: Array) -> Array:
    return np.asarray(a[0] * b[1] - a[1] * b[0])


def _dot(a: Array, b: Array) -> Array:
    return np.asarray((a * b).sum(axis=0))


def _squared_speed(coefficients: Array) -> Array:
    """Coefficients by rising order, shape (5, n), of the square of each cubic's speed: a quartic."""
    _, c1, c2, c3 = coefficients
    return np.stack(
        (
            _dot(c1, c1),
            4.0 * _dot(c1, c2),
            4.0 * _dot(c2, c2) + 6.0 * _dot(c1, c3),
            12.0 * _dot(c2, c3),
            9.0 * _dot(c3, c3),
        )
    )


def _speed(squared: Array, u: Array) -> Array:
    """Speed over the parameter at u from its segment's beginning; squared: coefficients, shape (5, ...)."""
    q0, q1, q2, q3, q4 = squared
    return np.asarray(np.sqrt(np.maximum(q0 + u * (q1 + u * (q2 + u * (q3 + u * q4))), 0.0)))


def _run(squared: Array, start: Array, width: Array) -> Array:
    """Arc lengths in m from start on over width, both of the segment's parameter, inside one cell each."""
    nodes = start[..., None] + width[..., None] * GAUSS_NODES
    return np.asarray(width * (_speed(squared[..., None], nodes) @ GAUSS_WEIGHTS))


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


def _periodic_spline(t: Array, points: Array) -> Array:
    """Coefficients as of _cubic_spline, of the spline that goes round: its ends are laid far beyond both ends."""
    count = len(t) - 1
    around = np.arange(-FADED, count + FADED + 1)
    laps, at = np.divmod(around, count)
    unrolled = _cubic_spline(t[at] + laps * t[-1], points[at])
    return np.asarray(unrolled[:, :, FADED : FADED + count])


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
    solved = (_three_banded(lower, middle, upper, column) for column in right.T)
    return np.stack(tuple(solved), axis=1)


def _three_banded(lower: Array, middle: Array, upper: Array, right: Array) -> Array:
    """Solve one three-banded system, all of shape (n,); as plain numbers, which are far quicker one by one."""
    low, mid, up, x = lower.tolist(), middle.tolist(), upper.tolist(), right.tolist()
    for i in range(1, len(mid)):
        factor = low[i] / mid[i - 1]
        mid[i] -= factor * up[i - 1]
        x[i] -= factor * x[i - 1]
    x[-1] /= mid[-1]
    for i in range(len(mid) - 2, -1, -1):
        x[i] = (x[i] - up[i] * x[i + 1]) / mid[i]
    return np.array(x)
