"""The least curvature that any line through a course can have: a linear relaxation, true for every line.

Along x the sine p of the heading changes by the curvature itself, dp/dx = k: with |k| <= K it is Lipschitz with K,
exactly. Over an interval of h its mean q lies, for any c from -1 to 1, within K h (1 + c^2) / 4 - c (p2 - p1) / 2 of
(p1 + p2) / 2. The slope y' = g(p) = p / sqrt(1 - p^2) is not linear: its mean lies between the convex and the concave
envelope of g at q (Jensen), over the headings that are possible there. Those are bounded first, by the same rows, for
lines that are no tighter than one that is known: the narrower they are, the nearer are the envelopes. A body that is
inside a lane, or beside a cone, has its middle line half its width from it, across its own heading.

What is claimed is not what HiGHS says it found: from its multipliers follows a number by weak duality that holds
whatever they are. Lines that turn by more than WIDEST from the course are left out, and it is said.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from choreo.courses import Course
from choreo.problem.linear import LinearProblem, Vector
from choreo.solve.driven_line import Shape
from choreo.solve.linear import proven_least
from choreo.words.records import dataclass

# Sines of headings that are looked at: up to 53 deg.
WIDEST = 0.8
# By round: so far aside (m) may a line bend from one node to the next, and headings are bounded anew at every so many
# of them. Then the curvature is, on finer ones.
ROUNDS = ((0.025, 2), (0.025, 2), (0.010, 3), (0.010, 2))
FINEST_M = 0.0004
# Taken off what is proved: the arithmetic of weak duality rounds to less (sines, and curvatures as a share).
ROUNDING = 1e-9
# Tangents that stand for a curve: where, as shares of a range.
SHARES = (0.0, 0.5, 1.0)


Whole = npt.NDArray[np.int_]


@dataclass(frozen=True, slots=True)
class _Grid:
    """Nodes along x in m, shape (n + 1,), and the least and the largest sine of the heading at each."""

    nodes: Vector
    low: Vector
    high: Vector

    @property
    def steps(self) -> Vector:
        return np.diff(self.nodes)

    def inside(self, most_per_m: float) -> tuple[Vector, Vector]:
        """The least and the largest sine in each interval, shape (n,) both, where no curvature is larger."""
        reach = most_per_m * self.steps
        low = (self.low[1:] + self.low[:-1] - reach) / 2.0
        high = (self.high[1:] + self.high[:-1] + reach) / 2.0
        return np.maximum(low, -WIDEST), np.minimum(high, WIDEST)

    def narrowed(self, node: int, low: float, high: float, most_per_m: float) -> _Grid:
        """The grid with the sines at one node known better, and so those near it."""
        reach = most_per_m * np.abs(self.nodes - self.nodes[node])
        return replace(
            self, low=np.maximum(self.low, low - reach), high=np.minimum(self.high, high + reach)
        )


@dataclass(frozen=True, slots=True)
class _Tangents:
    """Straight lines that are nowhere above a curve: rates and offsets, shape (lines, n) both."""

    rates: Vector
    offsets: Vector


def least_curvature_per_m(course: Course, shape: Shape, known_per_m: float) -> float | None:
    """Give a curvature in 1/m that no line through a course falls short of; None where nothing is proven.

    known_per_m: the largest curvature of a line that is known, or any that is not looked beyond.
    """
    grid = None
    for aside_m, every in ROUNDS:
        grid = _grid(course, shape, aside_m, grid, known_per_m)
        bounded = _bounded(course, shape, grid, every, known_per_m)
        if bounded is None:
            # No line is as gentle as the one that is known.
            return None
        grid = bounded
    problem = _problem(
        course, shape, _grid(course, shape, FINEST_M, grid, known_per_m), known_per_m
    )
    (least,) = proven_least(problem, [_cost(problem, -1, 1.0)])
    return None if math.isinf(least) else least * (1.0 - ROUNDING)


def _grid(
    course: Course, shape: Shape, aside_m: float, former: _Grid | None, most_per_m: float
) -> _Grid:
    """Nodes at the ends of lanes, and where the reference point or, however it points, the body is beside a cone."""
    middle = (shape.front_m - shape.rear_m) / 2.0 * math.sqrt(1.0 - WIDEST**2)
    step_m = math.sqrt(8.0 * aside_m / most_per_m)
    ends = [x for lane in course.lanes for x in (lane.from_m, lane.to_m)]
    ends = sorted({*ends, *(x for cone in course.cones for x in (cone.x_m, cone.x_m - middle))})
    nodes = [ends[0]]
    for end in ends[1:]:
        if end - nodes[-1] > 1e-6:
            count = math.ceil((end - nodes[-1]) / step_m - 1e-9)
            nodes += list(np.linspace(nodes[-1], end, count + 1)[1:])
    found = np.array(nodes)
    if former is None:
        return _Grid(found, np.full(len(found), -WIDEST), np.full(len(found), WIDEST))
    apart = most_per_m * np.abs(found[:, None] - former.nodes)
    low, high = (former.low - apart).max(axis=1), (former.high + apart).min(axis=1)
    return _Grid(found, np.maximum(low, -WIDEST), np.minimum(high, WIDEST))


def _bounded(
    course: Course, shape: Shape, grid: _Grid, every: int, most_per_m: float
) -> _Grid | None:
    """The grid with headings bounded anew at some nodes; elsewhere they follow. None: there is no such line."""
    problem = _problem(course, shape, grid, most_per_m)
    nodes = range(0, len(grid.nodes), every)
    ends = proven_least(
        problem, [_cost(problem, node, sign) for node in nodes for sign in (1.0, -1.0)]
    )
    for node, low, high in zip(nodes, ends[::2], ends[1::2], strict=True):
        if math.inf in (low, high):
            return None
        grid = grid.narrowed(node, low - ROUNDING, ROUNDING - high, most_per_m)
    return grid


def _cost(problem: LinearProblem, unknown: int, sign: float) -> Vector:
    cost = np.zeros(len(problem.lo))
    cost[unknown] = sign
    return cost


class _Rows:
    """Rows low <= matrix x <= high, written in blocks."""

    def __init__(self, width: int) -> None:
        self.width = width
        self.parts: list[tuple[Vector, Vector, Vector]] = []

    def least(self, low: Vector, *terms: tuple[Whole, Vector | float]) -> None:
        """Add rows: the sum of terms, each unknowns (shape (n,)) with their factors, is no less than low."""
        self._add(low, np.full(len(low), np.inf), terms)

    def equal(self, value: Vector, *terms: tuple[Whole, Vector | float]) -> None:
        """Add rows: the sum of terms is that value."""
        self._add(value, value, terms)

    def _add(
        self, low: Vector, high: Vector, terms: tuple[tuple[Whole, Vector | float], ...]
    ) -> None:
        matrix = np.zeros((len(low), self.width))
        each = np.arange(len(low))
        for unknowns, factors in terms:
            matrix[each, unknowns] += factors
        self.parts.append((matrix, low, high))


def _problem(course: Course, shape: Shape, grid: _Grid, most_per_m: float) -> LinearProblem:
    """Unknowns: sines at nodes, their means and the mean slopes of intervals, places y at nodes, the curvature."""
    steps, last = grid.steps, len(grid.nodes) - 1
    each, none = np.arange(last), np.zeros(last)
    sine, mean, slope = each, last + 1 + each, 2 * last + 1 + each
    place = 3 * last + 1 + np.arange(last + 1)
    most = np.full(last, 4 * last + 2)
    rows = _Rows(4 * last + 3)
    # y from node to node by the mean slope.
    rows.equal(none, (place[1:], 1.0), (place[:-1], -1.0), (slope, -steps))
    low, high = grid.inside(most_per_m)
    for sign in (1.0, -1.0):
        rows.least(none, (sine + 1, -sign), (sine, sign), (most, steps))
        for c in (-1.0, -0.5, 0.0, 0.5, 1.0):
            ends = (sine, (sign + c) / 2.0), (sine + 1, (sign - c) / 2.0)
            rows.least(none, (mean, -sign), *ends, (most, steps * (1.0 + c * c) / 4.0))
        below = _below_slope(low, high) if sign > 0 else _below_slope(-high, -low)
        for rates, offsets in zip(below.rates, below.offsets, strict=True):
            # slope >= rate mean + offset, and the same mirrored.
            rows.least(offsets, (slope, sign), (mean, -sign * rates))
    for sign in (1.0, -1.0):
        _gates(rows, course, shape, grid, sign, place)
    # Nobody comes further from the lanes and cones than that, within these slopes.
    sides = [y for lane in course.lanes for y in (lane.right_m, lane.left_m)]
    widest = WIDEST / math.sqrt(1.0 - WIDEST**2)
    away = max(abs(y) for y in (*sides, *(cone.y_m for cone in course.cones)))
    away += widest * (grid.nodes[-1] - grid.nodes[0] + shape.front_m + shape.rear_m)
    steep = np.full(last, widest)
    bound = np.full(last + 1, away)
    matrix, least, most_of = (np.concatenate(parts) for parts in zip(*rows.parts, strict=True))
    return LinearProblem(
        matrix,
        least,
        most_of,
        np.concatenate((grid.low, low, -steep, -bound, [0.0])),
        np.concatenate((grid.high, high, steep, bound, [most_per_m])),
        np.zeros(rows.width),
    )


def _below_slope(low: Vector, high: Vector) -> _Tangents:
    """Lines below g over [low, high]: that from its end where g is concave, and tangents where it is convex."""

    def g(p: Vector) -> Vector:
        return np.asarray(p / np.sqrt(1.0 - p**2))

    def rate(p: Vector) -> Vector:
        return np.asarray((1.0 - p**2) ** -1.5)

    # From a left end below zero a line touches g right of zero, or leads to the right end before it would. No line that
    # is as steep as g at zero comes above it behind where it begins: that is taken of ranges that are hardly any.
    left, right = np.minimum(np.maximum(low, 0.0), high), high.copy()
    for _ in range(60):
        middle = (left + right) / 2.0
        steep = rate(middle) * (middle - low) > g(middle) - g(low)
        left, right = np.where(steep, left, middle), np.where(steep, middle, right)
    convex, wide = low >= 0.0, left - low
    chord = (g(left) - g(low)) / np.maximum(wide, 1e-7)
    chord = np.where(convex, rate(low), np.where(wide < 1e-7, 1.0, chord))
    rates, offsets = [chord], [g(low) - chord * low]
    touch = np.where(convex, low, right)
    only = ~convex & (rate(high) * (high - low) <= g(high) - g(low))
    for share in SHARES:
        at = touch + share * (high - touch)
        rates.append(np.where(only, chord, rate(at)))
        offsets.append(np.where(only, offsets[0], g(at) - rate(at) * at))
    return _Tangents(np.stack(rates), np.stack(offsets) - 1e-12)


def _gates(
    rows: _Rows, course: Course, shape: Shape, grid: _Grid, sign: float, place: Whole
) -> None:
    """Rows of one side: across its own heading the body is half its width from the edge, and off the cones.

    So it is at so much ahead of a node along x, dx, where y + dx g(p) + half / cos <= edge - margin; if it is there
    with its whole width, which it is a bit off its ends. Of a lane the first and the last such dx count, of a cone its.
    """
    # Sines of headings towards that side.
    low, high = (grid.low, grid.high) if sign > 0 else (-grid.high, -grid.low)
    most = np.maximum(np.abs(low), np.abs(high))
    least_cos = np.sqrt(1.0 - most**2)
    nodes, each = grid.nodes, np.arange(len(grid.nodes))
    leads, trails = _below_slope(low, high), _below_slope(-high, -low)
    wide = _below_width(low, high)

    def add(ahead: Vector, there: npt.NDArray[np.bool_], half_m: float, edge_m: float) -> None:
        for line, (rates, offsets) in enumerate(zip(wide.rates, wide.offsets, strict=True)):
            for which in (0, line + 1):
                slopes = np.where(ahead >= 0.0, leads.rates[which], trails.rates[which]) * ahead
                beyond = np.where(
                    ahead >= 0.0, leads.offsets[which], trails.offsets[which]
                ) * np.abs(ahead)
                taken = beyond + half_m * offsets
                rows.least(
                    taken[there] - edge_m,
                    (place[there], -sign),
                    (each[there], -sign * (slopes + half_m * rates)[there]),
                )

    def reaches(half_m: float) -> tuple[Vector, Vector]:
        return half_m * most - shape.rear_m * least_cos, shape.front_m * least_cos - half_m * most

    for lane in course.lanes:
        rear, front = reaches(shape.half_m)
        first, last = np.maximum(lane.from_m - nodes, rear), np.minimum(lane.to_m - nodes, front)
        edge = lane.left_m if sign > 0 else -lane.right_m
        for ahead in (first, last):
            add(ahead, first <= last, shape.half_m, edge - course.margin_m)
    off = shape.half_m + course.margin_m
    for cone in course.cones:
        if (cone.side == "left") == (sign > 0):
            rear, front = reaches(off)
            ahead = cone.x_m - nodes
            add(ahead, (rear <= ahead) & (ahead <= front), off, sign * cone.y_m)


def _below_width(low: Vector, high: Vector) -> _Tangents:
    """Tangents of 1 / cos over the sine, which is convex, in [low, high]."""
    at = np.stack([low + share * (high - low) for share in SHARES])
    rates = at * (1.0 - at**2) ** -1.5
    return _Tangents(rates, (1.0 - at**2) ** -0.5 - rates * at - 1e-12)
