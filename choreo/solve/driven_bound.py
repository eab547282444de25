"""The least curvature that any line through a course can have: a linear relaxation, true for every line.

Along x the sine p of the heading changes by the curvature itself, dp/dx = k: with |k| <= K it is Lipschitz with K,
exactly. Means q of p over neighbouring intervals differ by no more than K times the way between their middles.
The slope y' = g(p) = p / sqrt(1 - p^2) is not linear: its mean over an interval lies between the convex and the concave
envelope of g at q (Jensen), over the headings that are possible there. Those are bounded first, by the same rows, for
lines that are no tighter than one that is known. A body that is inside a lane has its middle line there, half its width
from both edges. Lines that turn by more than WIDEST from the course are left out, and it is said.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np

from choreo.courses import Course
from choreo.problem.linear import LinearProblem, Vector
from choreo.solve.driven_line import Shape
from choreo.solve.linear import solve_linear
from choreo.words.records import dataclass

# Intervals along x are no longer than this (m).
STEP_M = 1.0
# Sines of headings that are looked at: up to 53 deg.
WIDEST = 0.8
# How often headings are bounded anew.
ROUNDS = 2
# Taken off the result, as a share: linear problems are solved to less.
ROUNDING = 1e-6


@dataclass(frozen=True, slots=True)
class _Grid:
    """Nodes along x in m, shape (n + 1,), and the largest sine of the heading at each."""

    nodes: Vector
    sines: Vector

    @property
    def steps(self) -> Vector:
        return np.diff(self.nodes)

    @property
    def inside(self) -> Vector:
        """The largest sine in each interval, shape (n,)."""
        return np.maximum(self.sines[1:], self.sines[:-1])


@dataclass(frozen=True, slots=True)
class _Rows:
    """low <= matrix x <= high over sines at nodes, their means, mean slopes, places y at nodes, and the curvature."""

    matrix: Vector
    low: Vector
    high: Vector


def least_curvature_per_m(course: Course, shape: Shape, known_per_m: float) -> float | None:
    """Give a curvature in 1/m that no line through a course falls short of; None where nothing is proven.

    known_per_m: the largest curvature of a line that is known, or any that is not looked beyond.
    """
    grid = _grid(course, (shape.front_m - shape.rear_m) / 2.0)
    for _ in range(ROUNDS):
        rows = _rows(course, shape, grid, known_per_m)
        grid = _bounded(course, grid, rows, known_per_m)
    rows = _rows(course, shape, grid, known_per_m)
    least = _solved(grid, rows, _cost(grid, -1, 1.0), known_per_m)
    if least is None:
        # No line is as gentle as the one that is known.
        return None
    return float(least[-1]) * (1.0 - ROUNDING)


def _grid(course: Course, ahead_m: float) -> _Grid:
    """Nodes at the ends of lanes, and where the reference point or the middle of a body is beside a cone."""
    ends = [x for lane in course.lanes for x in (lane.from_m, lane.to_m)]
    ends = sorted({*ends, *(x for cone in course.cones for x in (cone.x_m, cone.x_m - ahead_m))})
    nodes = [ends[0]]
    for end in ends[1:]:
        count = max(1, math.ceil((end - nodes[-1]) / STEP_M))
        nodes += list(np.linspace(nodes[-1], end, count + 1)[1:])
    found = np.array(nodes)
    return _Grid(found, np.full(len(found), WIDEST))


def _bounded(course: Course, grid: _Grid, rows: _Rows, most_per_m: float) -> _Grid:
    """Bound the headings at the ends of the lanes and between them; elsewhere they follow from the curvature."""
    ends = [x for lane in course.lanes for x in (lane.from_m, lane.to_m)]
    ends = ends or [cone.x_m for cone in course.cones]
    places = sorted({*ends, *((a + b) / 2.0 for a, b in pairwise(ends))})
    sines = grid.sines
    for place in places:
        node = int(np.abs(grid.nodes - place).argmin())
        most = 0.0
        for sign in (-1.0, 1.0):
            found = _solved(grid, rows, _cost(grid, node, sign), most_per_m)
            most = max(most, WIDEST if found is None else abs(float(found[node])) + 1e-7)
        near = most + most_per_m * np.abs(grid.nodes - grid.nodes[node])
        sines = np.minimum(sines, near)
    return replace(grid, sines=sines)


def _cost(grid: _Grid, unknown: int, sign: float) -> Vector:
    cost = np.zeros(4 * len(grid.nodes) - 1)
    cost[unknown] = sign
    return cost


def _solved(grid: _Grid, rows: _Rows, cost: Vector, most_per_m: float) -> Vector | None:
    count = len(grid.nodes)
    high = np.full(len(cost), 1e4)
    high[:count] = grid.sines
    high[count : 2 * count - 1] = grid.inside
    low = -high
    low[-1], high[-1] = 0.0, most_per_m
    return solve_linear(LinearProblem(rows.matrix, rows.low, rows.high, low, high, cost))


def _rows(course: Course, shape: Shape, grid: _Grid, most_per_m: float) -> _Rows:
    nodes, steps = grid.nodes, grid.steps
    count, last = len(nodes), len(nodes) - 1
    width = 4 * count - 1
    sine, mean, slope, place = 0, count, 2 * count - 1, 3 * count - 2
    parts: list[tuple[Vector, Vector, Vector]] = []

    def add(matrix: Vector, low: Vector, high: Vector) -> None:
        parts.append((matrix, low, high))

    each = np.arange(last)
    open_end = np.full(last, np.inf)
    # y from node to node by the mean slope.
    matrix = np.zeros((last, width))
    matrix[each, place + each + 1], matrix[each, place + each] = 1.0, -1.0
    matrix[each, slope + each] = -steps
    add(matrix, np.zeros(last), np.zeros(last))
    # Neighbouring means, and means against the sines at both ends.
    apart = (steps[1:] + steps[:-1]) / 2.0
    pairs = [(mean + each[1:], mean + each[:-1], apart)]
    pairs += [(sine + each, mean + each, steps / 2.0), (sine + each + 1, mean + each, steps / 2.0)]
    for one, other, reach in pairs:
        for sign in (1.0, -1.0):
            matrix = np.zeros((len(one), width))
            here = np.arange(len(one))
            matrix[here, one], matrix[here, other], matrix[here, -1] = -sign, sign, reach
            add(matrix, np.zeros(len(one)), np.full(len(one), np.inf))
    for rates, offsets in _envelope(grid.inside):
        for sign in (1.0, -1.0):
            # slope >= rate mean + offset, and the same mirrored.
            matrix = np.zeros((last, width))
            matrix[each, slope + each], matrix[each, mean + each] = sign, -sign * rates
            add(matrix, offsets, open_end)
    for matrix, low, high in _gates(course, shape, grid, place, width, most_per_m):
        add(matrix, low, high)
    return _Rows(*(np.concatenate([part[index] for part in parts]) for index in range(3)))


def _envelope(sines: Vector) -> list[tuple[Vector, Vector]]:
    """Lines below g over [-b, b] for each b: rate and offset; the first one is its convex envelope's straight part."""

    def g(p: Vector) -> Vector:
        return np.asarray(p / np.sqrt(1.0 - p**2))

    def rate(p: Vector) -> Vector:
        return np.asarray((1.0 - p**2) ** -1.5)

    low, high = np.zeros_like(sines), sines.copy()
    for _ in range(60):
        middle = (low + high) / 2.0
        steep = rate(middle) * (middle + sines) > g(middle) + g(sines)
        low, high = np.where(steep, low, middle), np.where(steep, middle, high)
    # Tangents at any place right of where the chord touches are below; so is the chord itself.
    chord = (g(low) + g(sines)) / (low + sines)
    lines = [(chord, -g(sines) + chord * sines)]
    for share in (0.0, 0.5, 1.0):
        at = high + share * (sines - high)
        lines.append((rate(at), g(at) - rate(at) * at))
    # The chord from the left end to a point just left of the touching one may lie above g by rounding alone.
    return [(rates, offsets - 1e-12) for rates, offsets in lines]


def _gates(
    course: Course, shape: Shape, grid: _Grid, place: int, width: int, most_per_m: float
) -> list[tuple[Vector, Vector, Vector]]:
    """Points of the body's middle line that are surely in a lane are half its width from its edges.

    Beside such a point the body is as wide as that where the point is far enough from both ends of it.
    """
    nodes, sines = grid.nodes, grid.sines
    tangents = sines / np.sqrt(1.0 - sines**2)
    room = shape.half_m + course.margin_m
    found = []
    # The point may be taken where it suits each node; the reference point, the middle, and near both ends.
    short = shape.half_m * tangents
    points = [np.zeros(len(nodes)), np.full(len(nodes), (shape.front_m - shape.rear_m) / 2.0)]
    points += [shape.front_m - short, -shape.rear_m + short]
    for points_m in points:
        ahead, behind = shape.front_m - short + 1e-12, short - shape.rear_m - 1e-12
        inside = (points_m <= ahead) & (points_m >= behind)
        ends = nodes + points_m, nodes + points_m * np.sqrt(1.0 - sines**2)
        first, final = np.minimum(*ends), np.maximum(*ends)
        for lane in course.lanes:
            there = np.flatnonzero(inside & (first >= lane.from_m) & (final <= lane.to_m))
            matrix = np.zeros((len(there), width))
            here = np.arange(len(there))
            matrix[here, place + there] = 1.0
            matrix[here, there] += points_m[there]
            low = np.full(len(there), lane.right_m + room)
            found.append((matrix, low, np.full(len(there), lane.left_m - room)))
    for cone in course.cones:
        for along in (0.0, (shape.front_m - shape.rear_m) / 2.0):
            node = int(np.abs(nodes + along - cone.x_m).argmin())
            # Where the point passes the cone it is nearer to the node than this, and its place by so much surer.
            away = abs(nodes[node] + along - cone.x_m)
            away += abs(along) * (1.0 - math.sqrt(1.0 - sines[node] ** 2))
            sine = min(sines[node] + most_per_m * (away + STEP_M), WIDEST)
            steepest = sine / math.sqrt(1.0 - sine**2)
            if shape.half_m * steepest > min(shape.front_m - along, shape.rear_m + along):
                continue
            unsure = away * (steepest + abs(along) * most_per_m)
            matrix = np.zeros((1, width))
            matrix[0, place + node], matrix[0, node] = 1.0, along
            left = cone.side == "left"
            low = np.array([-np.inf if left else cone.y_m + room - unsure])
            found.append((matrix, low, np.array([cone.y_m - room + unsure if left else np.inf])))
    return found
