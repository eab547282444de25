"""The line driven through a course: curvature over length such that the body stays inside the lanes and off the cones.

Curvature is linear between knots. The largest curvature (or the largest change of it, for least jerk) is made least by
linear problems around the line found last, each with the true body at every half metre: its corners inside the lanes,
its sides off the cones. A linear problem is the whole of it while headings are small; the steps correct the rest. That
the line is as good as it can be is not claimed here: what no line can beat says `driven_bound.py`.
"""

from __future__ import annotations

from dataclasses import field

import numpy as np

from choreo.courses import LINE_APPROACH_M, Course
from choreo.problem.linear import LinearProblem, Vector
from choreo.solve.linear import solve_linear
from choreo.words.records import dataclass

KNOT_M, STEP_M = 1.5, 0.25
# The body is looked at every so many steps.
LOOK = 2
# Added to the margin: what is missed between two looks, and what curvature rounds.
BETWEEN_M = 2e-3
# A line is done when no curvature (1/m) moves by more, or after so many linear problems.
STILL_PER_M, MOST_ROUNDS = 2e-6, 14
# How far curvature may move in one round (1/m), and by what that shrinks.
REACH_PER_M, SHRINKS = 0.03, 0.6
# What a metre of a missed margin costs, against a curvature of 1/m; what each change of curvature costs beside it.
MISS_COST, SMOOTH_COST = 50.0, 2e-5
# A margin that is missed by no more (m) is kept.
KEPT_M = 1e-3
# A gate whose margin is used up to this (m) binds.
BINDS_M = 5e-3


@dataclass(frozen=True, slots=True)
class Shape:
    """A body by its reference point: front and rear from it, half its width, in m."""

    front_m: float
    rear_m: float
    half_m: float


@dataclass(frozen=True, slots=True)
class Line:
    """A line in the frame of its course: it begins at x begin_m, y 0, along x.

    knots_m: stations from its beginning, curvatures: there, in 1/m, shape (n,) both. sections: by lane or gate, first
    and last station. binds: cones and lanes at which the margin is used up. missed_m: by how much it is not kept.
    """

    begin_m: float
    knots_m: Vector
    curvatures: Vector
    sections: tuple[tuple[str, float, float], ...]
    binds: tuple[str, ...]
    missed_m: float

    @property
    def most_per_m(self) -> float:
        """Its largest curvature in 1/m."""
        return float(np.abs(self.curvatures).max())


@dataclass(frozen=True, slots=True)
class _Track:
    """A line laid out: stations, x, y, heading at every step."""

    x: Vector
    y: Vector
    heading: Vector


@dataclass()
class _Rows:
    """Rows a . (change of curvatures) + value >= 0, by the gate that they belong to.

    end: how far left of the course it ends, and how that changes, where no lane says where to.
    """

    slopes: list[Vector] = field(default_factory=list)
    values: list[Vector] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    end: tuple[Vector, float] | None = None

    def add(self, name: str, slopes: Vector, values: Vector) -> None:
        """Add rows of one gate. slopes: shape (n, knots), values: shape (n,)."""
        self.slopes.append(slopes)
        self.values.append(values)
        self.names += [name] * len(values)


class DrivenLine:
    """The search for the line of one body through one course."""

    def __init__(self, course: Course, shape: Shape) -> None:
        ends = [x for lane in course.lanes for x in (lane.from_m, lane.to_m)]
        ends += [cone.x_m for cone in course.cones]
        first, last = min(ends), max(ends)
        self.course, self.shape = course, shape
        self.begin_m = first - LINE_APPROACH_M
        count = int(np.ceil((last + LINE_APPROACH_M - self.begin_m) / KNOT_M)) + 1
        self.knots = np.arange(count + 1) * KNOT_M
        self.stations = np.arange(round(self.knots[-1] / STEP_M) + 1) * STEP_M
        place = self.stations / KNOT_M
        low = np.minimum(place.astype(int), count - 1)
        share = place - low
        self.weights = np.zeros((len(self.stations), count + 1))
        rows = np.arange(len(self.stations))
        self.weights[rows, low] += 1.0 - share
        self.weights[rows, low + 1] += share
        between = (self.weights[1:] + self.weights[:-1]) / 2.0 * STEP_M
        self.turning = np.vstack((np.zeros(count + 1), np.cumsum(between, axis=0)))

    def found(self) -> Line:
        """Give the line; its missed_m says whether it keeps the margin."""
        bends = np.zeros(len(self.knots))
        best, best_cost, reach = bends, np.inf, REACH_PER_M
        for _ in range(MOST_ROUNDS):
            rows = self._rows(self._laid(bends))
            cost = self._size(bends) + MISS_COST * max(-self._least(rows), 0.0)
            if cost < best_cost - 1e-9:
                best, best_cost = bends, cost
            else:
                reach *= SHRINKS
                bends, rows = best, self._rows(self._laid(best))
            step = self._step(bends, rows, reach)
            if step is None or np.abs(step).max() < STILL_PER_M:
                break
            bends = bends + step
        rows = self._rows(self._laid(bends))
        if self._size(bends) + MISS_COST * max(-self._least(rows), 0.0) < best_cost:
            best = bends
        return self._line(best)

    def _size(self, bends: Vector) -> float:
        if self.course.line == "least jerk":
            return float(np.abs(np.diff(bends)).max() / KNOT_M)
        return float(np.abs(bends).max())

    def _laid(self, bends: Vector) -> _Track:
        heading = self.turning @ bends
        middle = (heading[1:] + heading[:-1]) / 2.0
        x = self.begin_m + np.concatenate(([0.0], np.cumsum(np.cos(middle)) * STEP_M))
        y = np.concatenate(([0.0], np.cumsum(np.sin(middle)) * STEP_M))
        return _Track(x, y, heading)

    def _least(self, rows: _Rows) -> float:
        return float(np.concatenate(rows.values).min())

    def _rows(self, track: _Track) -> _Rows:
        """What is left of the margin at every look, and how it changes with the curvatures."""
        middle = (self.turning[1:] + self.turning[:-1]) / 2.0
        angle = (track.heading[1:] + track.heading[:-1]) / 2.0
        zero = np.zeros((1, self.turning.shape[1]))
        x_slope = np.vstack((zero, np.cumsum(-np.sin(angle)[:, None] * middle, axis=0) * STEP_M))
        y_slope = np.vstack((zero, np.cumsum(np.cos(angle)[:, None] * middle, axis=0) * STEP_M))
        looks = np.arange(0, len(self.stations), LOOK)
        part = _Track(track.x[looks], track.y[looks], track.heading[looks])
        slopes = x_slope[looks], y_slope[looks], self.turning[looks]
        rows = _Rows()
        self._lanes(rows, part, slopes)
        self._cones(rows, part, slopes)
        if not self.course.lanes:
            rows.end = y_slope[-1], float(track.y[-1])
        return rows

    def _lanes(self, rows: _Rows, track: _Track, slopes: tuple[Vector, Vector, Vector]) -> None:
        """Each corner of the body that is in a lane is between its edges."""
        margin, shape = self.course.margin_m + BETWEEN_M, self.shape
        sin, cos = np.sin(track.heading), np.cos(track.heading)
        for along in (shape.front_m, -shape.rear_m):
            for side in (1.0, -1.0):
                x = track.x + along * cos - side * shape.half_m * sin
                y = track.y + along * sin + side * shape.half_m * cos
                turn = along * cos - side * shape.half_m * sin
                change = slopes[1] + turn[:, None] * slopes[2]
                for lane in self.course.lanes:
                    inside = (x >= lane.from_m) & (x <= lane.to_m)
                    edge = lane.left_m if side > 0 else lane.right_m
                    left = side * (edge - y[inside]) - margin
                    rows.add(lane.name, -side * change[inside], left)

    def _cones(self, rows: _Rows, track: _Track, slopes: tuple[Vector, Vector, Vector]) -> None:
        """Each cone beside the body is off its side."""
        margin, shape = self.course.margin_m + BETWEEN_M, self.shape
        sin, cos = np.sin(track.heading), np.cos(track.heading)
        for cone in self.course.cones:
            dx, dy = cone.x_m - track.x, cone.y_m - track.y
            ahead, left = dx * cos + dy * sin, dy * cos - dx * sin
            # Whoever is beside it between two looks is at one of them, too.
            near = margin + LOOK * STEP_M / 2.0
            beside = (ahead >= -shape.rear_m - near) & (ahead <= shape.front_m + near)
            side = 1.0 if cone.side == "left" else -1.0
            change = sin[:, None] * slopes[0] - cos[:, None] * slopes[1]
            change = change - ahead[:, None] * slopes[2]
            values = side * left[beside] - shape.half_m - margin
            rows.add(cone.name, side * change[beside], values)

    def _step(self, bends: Vector, rows: _Rows, reach: float) -> Vector | None:
        """The best change of the curvatures within reach; the last two unknowns are the size and what is missed."""
        count = len(bends)
        slopes, values = np.concatenate(rows.slopes), np.concatenate(rows.values)
        # What can't be missed within reach needs no row.
        near = values < np.abs(slopes).sum(axis=1) * reach
        slopes, values = slopes[near], values[near]
        jerk = self.course.line == "least jerk"
        change = (np.eye(count)[1:] - np.eye(count)[:-1]) / KNOT_M
        sized = change if jerk else np.eye(count)
        here = sized @ bends
        many = len(sized)
        # Unknowns: changes, size, miss, and what each change of curvature is larger than.
        width = count + 2 + (count - 1)
        matrix = np.zeros((len(values) + 2 * many + 2 * (count - 1) + 2, width))
        low = np.zeros(len(matrix))
        at = len(values)
        matrix[:at, :count], matrix[:at, count + 1], low[:at] = slopes, 1.0, -values
        for sign in (1.0, -1.0):
            matrix[at : at + many, :count], matrix[at : at + many, count] = -sign * sized, 1.0
            low[at : at + many] = sign * here
            at += many
            block = slice(at, at + count - 1)
            matrix[block, :count] = -sign * change
            matrix[block, count + 2 :] = np.eye(count - 1)
            low[block] = sign * (change @ bends)
            at += count - 1
        high = np.full(len(matrix), np.inf)
        # It ends parallel to the course.
        matrix[at, :count] = self.turning[-1]
        low[at] = high[at] = -float(self.turning[-1] @ bends)
        # And between cones alone on their axis, from which it came.
        if rows.end is not None:
            matrix[at + 1, :count], left = rows.end
            low[at + 1] = high[at + 1] = -left
        bounds = np.full(width, 1.0)
        bounds[:count] = reach
        least = -bounds.copy()
        least[count:] = 0.0
        bounds[0] = least[0] = -bends[0]
        bounds[count - 1] = least[count - 1] = -bends[-1]
        bounds[count:] = 1e3
        cost = np.zeros(width)
        cost[count], cost[count + 1], cost[count + 2 :] = 1.0, MISS_COST, SMOOTH_COST
        found = solve_linear(LinearProblem(matrix, low, high, least, bounds, cost))
        return None if found is None else found[:count]

    def _line(self, bends: Vector) -> Line:
        bends = np.asarray(np.where(np.abs(bends) < 1e-9, 0.0, bends), dtype=np.float64)
        track = self._laid(bends)
        rows = self._rows(track)
        values = np.concatenate(rows.values)
        binds = [name for name, left in zip(rows.names, values, strict=True) if left < BINDS_M]
        gates = [(lane.name, lane.from_m, lane.to_m) for lane in self.course.lanes]
        sections = []
        for index, (name, begin, end) in enumerate(gates):
            if index:
                number = 2 * index
                sections.append((f"section{number}", gates[index - 1][2], begin))
            sections.append((name, begin, end))
        if not gates:
            cones = [cone.x_m for cone in self.course.cones]
            before = [2 * cones[0] - cones[1] if len(cones) > 1 else cones[0] - 1.0, *cones]
            sections = [
                (f"gate{n}", a, b) for n, (a, b) in enumerate(zip(before, cones, strict=False), 1)
            ]
        stations: Vector = np.asarray(self.knots, dtype=np.float64)
        return Line(
            self.begin_m,
            stations,
            bends,
            tuple((n, self._station(track, a), self._station(track, b)) for n, a, b in sections),
            tuple(dict.fromkeys(binds)),
            max(-float(values.min()), 0.0),
        )

    def _station(self, track: _Track, x_m: float) -> float:
        return float(np.interp(x_m, track.x, self.stations))
