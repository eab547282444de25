"""The line driven through a course: curvature over length such that the body stays inside the lanes and off the cones.

Curvature is linear between knots. The largest curvature (or the largest change of it, for least jerk) is made least by
linear problems around the line found last, each with the true body at every step: its corners inside the lanes, its
sides off the cones. A linear problem is the whole of it while headings are small; the steps correct the rest. Knots are
far apart at first; the gentlest line turns from side to side as fast as they let it, so it is then found anew between
close ones. That the line is as good as it can be is not claimed here: what no line can beat says `driven_bound.py`.
"""

from __future__ import annotations

from dataclasses import field, replace

import numpy as np

from choreo.courses import LINE_APPROACH_M, Course
from choreo.problem.linear import LinearProblem, Vector
from choreo.solve.linear import solve_linear
from choreo.words.records import dataclass

# Where the body is looked at along the line; what is missed between two looks is added to the margin.
STEP_M, BETWEEN_M = 0.25, 5e-4
# From knot to knot at first, and then within NEAR_M of the cones where the line need not be smooth.

KNOT_M, CLOSE_M, NEAR_M = 1.5, 0.5, 6.0
# A line is done when a round can make it better by less, as a share, or after so many linear problems.
ENOUGH, MOST_ROUNDS = 1e-3, 14
# How far headings may move in one round (rad), and by what that shrinks. Curvatures may move at will: where the line
# turns from one side to the other is a matter of one knot.
REACH_RAD, CLOSE_RAD, SHRINKS = 0.5, 0.01, 0.4
# What a metre of a missed margin costs, against a curvature of 1/m; what each change of curvature costs beside it.
MISS_COST, SMOOTH_COST = 1.0, 2e-5
# A margin that is missed by no more (m) is kept.
KEPT_M = 1e-3
# A line that misses its margin by more (m) between knots that are far apart is not looked for between close ones.
FITS_M = 0.05
# What has so much more room than the tightest (m) is looked at once it is broken.
FAR_M = 0.3
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

    def mirrored(self) -> Line:
        """Give the line through the mirrored course."""
        return replace(self, curvatures=-self.curvatures)


@dataclass(frozen=True, slots=True)
class _Track:
    """A line laid out: x, y, heading at every step, and the mean heading of each."""

    x: Vector
    y: Vector
    heading: Vector
    between: Vector


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


class _Knots:
    """Where curvature is given, and how it makes the heading at every step.

    knots, stations: m from the beginning, shapes (k,), (n,). turning: headings at the stations for a curvature of 1/m
    at one knot and none at the others, shape (n, k); between: their means over each step, shape (n - 1, k).
    """

    def __init__(self, knots: Vector) -> None:
        self.knots = knots
        self.steps = np.diff(knots)
        self.stations = np.arange(round(knots[-1] / STEP_M) + 1) * STEP_M
        weights = np.stack(
            [np.interp(self.stations, knots, one) for one in np.eye(len(knots))], axis=1
        )
        first, second = weights[:-1], weights[1:]
        zero = np.zeros((1, len(knots)))
        self.turning = np.vstack((zero, np.cumsum((first + second) / 2.0 * STEP_M, axis=0)))
        # Curvature is linear over a step: the mean of its integral is exact.
        self.between = self.turning[:-1] + (first / 3.0 + second / 6.0) * STEP_M


class DrivenLine:
    """The search for the line of one body through one course."""

    def __init__(self, course: Course, shape: Shape) -> None:
        ends = [x for lane in course.lanes for x in (lane.from_m, lane.to_m)]
        ends += [cone.x_m for cone in course.cones]
        first, last = min(ends), max(ends)
        self.course, self.shape = course, shape
        self.begin_m = first - LINE_APPROACH_M
        count = int(np.ceil((last + LINE_APPROACH_M - self.begin_m) / KNOT_M)) + 1
        self._far: Vector = np.asarray(np.arange(count + 1) * KNOT_M, dtype=np.float64)
        close = np.arange(0.0, self._far[-1], CLOSE_M)
        middle, half = LINE_APPROACH_M + (last - first) / 2.0, (last - first) / 2.0
        near = close[np.abs(close - middle) < half + NEAR_M]
        self._close = np.unique(np.concatenate((self._far, near)))
        self._on = _Knots(self._far)

    def found(self) -> Line:
        """Give the line; its missed_m says whether it keeps the margin."""
        bends = self._searched(np.zeros(len(self._far)), REACH_RAD)
        if self.course.line == "least lateral acceleration" and self._missed(bends) < FITS_M:
            self._on = _Knots(self._close)
            bends = self._searched(np.interp(self._close, self._far, bends), CLOSE_RAD)
        return self._line(bends)

    def _searched(self, bends: Vector, reach: float) -> Vector:
        """Give the best curvatures at the knots, from some to begin with."""
        best, rows, cost = bends, self._rows(self._laid(bends)), self._cost(bends)
        for _ in range(MOST_ROUNDS):
            step, hoped = self._step(best, rows, reach)
            if step is None or cost - hoped < ENOUGH * cost:
                break
            found = self._cost(best + step)
            if found < cost:
                best, cost = best + step, found
                rows = self._rows(self._laid(best))
            else:
                reach = SHRINKS * min(reach, float(np.abs(self._on.turning @ step).max()))
        return best

    def _cost(self, bends: Vector) -> float:
        return self._size(bends) + MISS_COST * self._missed(bends)

    def _missed(self, bends: Vector) -> float:
        return max(-self._least(self._rows(self._laid(bends))), 0.0)

    def _size(self, bends: Vector) -> float:
        if self.course.line == "least jerk":
            return float(np.abs(np.diff(bends) / self._on.steps).max())
        return float(np.abs(bends).max())

    def _laid(self, bends: Vector) -> _Track:
        heading, middle = self._on.turning @ bends, self._on.between @ bends
        x = self.begin_m + np.concatenate(([0.0], np.cumsum(np.cos(middle)) * STEP_M))
        y = np.concatenate(([0.0], np.cumsum(np.sin(middle)) * STEP_M))
        return _Track(x, y, heading, middle)

    def _least(self, rows: _Rows) -> float:
        return float(np.concatenate(rows.values).min())

    def _rows(self, track: _Track) -> _Rows:
        """What is left of the margin at every look, and how it changes with the curvatures."""
        on = self._on
        zero = np.zeros((1, len(on.knots)))
        sin, cos = np.sin(track.between)[:, None], np.cos(track.between)[:, None]
        x_slope = np.vstack((zero, np.cumsum(-sin * on.between, axis=0) * STEP_M))
        y_slope = np.vstack((zero, np.cumsum(cos * on.between, axis=0) * STEP_M))
        slopes = x_slope, y_slope, on.turning
        rows = _Rows()
        self._lanes(rows, track, slopes)
        self._cones(rows, track, slopes)
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
            near = margin + STEP_M / 2.0
            beside = (ahead >= -shape.rear_m - near) & (ahead <= shape.front_m + near)
            side = 1.0 if cone.side == "left" else -1.0
            change = sin[:, None] * slopes[0] - cos[:, None] * slopes[1]
            change = change - ahead[:, None] * slopes[2]
            values = side * left[beside] - shape.half_m - margin
            rows.add(cone.name, side * change[beside], values)

    def _step(self, bends: Vector, rows: _Rows, reach: float) -> tuple[Vector | None, float]:
        """The best change of the curvatures within reach, and what the line would cost if all were linear.

        Rows that are far from binding are left out until a change breaks them.
        """
        slopes, values = np.concatenate(rows.slopes), np.concatenate(rows.values)
        taken = values < values.min() + FAR_M
        while True:
            found = self._change(bends, slopes[taken], values[taken], rows.end, reach)
            if found is None:
                return None, 0.0
            change, size, missed = found
            left = values + slopes @ change + missed
            if not np.any(left[~taken] < 0.0):
                return change, size + MISS_COST * missed
            taken |= left < FAR_M / 10.0

    def _change(
        self,
        bends: Vector,
        slopes: Vector,
        values: Vector,
        end: tuple[Vector, float] | None,
        reach: float,
    ) -> tuple[Vector, float, float] | None:
        """The best change within reach by these rows, the size of the line and what it misses."""
        count = len(bends)
        turns = self._on.turning[np.searchsorted(self._on.stations, self._on.knots[2::3])]
        jerk = self.course.line == "least jerk"
        change = (np.eye(count)[1:] - np.eye(count)[:-1]) / self._on.steps[:, None]
        sized = change if jerk else np.eye(count)
        here = sized @ bends
        many = len(sized)
        # Unknowns: changes, size, miss, and what each change of curvature is larger than.
        width = count + 2 + (count - 1)
        matrix = np.zeros((len(values) + 2 * many + 2 * (count - 1) + len(turns) + 2, width))
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
        matrix[at : at + len(turns), :count] = turns
        low[at : at + len(turns)], high[at : at + len(turns)] = -reach, reach
        at += len(turns)
        # It ends parallel to the course.
        matrix[at, :count] = self._on.turning[-1]
        low[at] = high[at] = -float(self._on.turning[-1] @ bends)
        # And between cones alone on their axis, from which it came.
        if end is not None:
            matrix[at + 1, :count], left = end
            low[at + 1] = high[at + 1] = -left
        bounds = np.full(width, 1.0)
        least = -bounds.copy()
        least[count:] = 0.0
        bounds[0] = least[0] = -bends[0]
        bounds[count - 1] = least[count - 1] = -bends[-1]
        bounds[count:] = 1e3
        cost = np.zeros(width)
        cost[count], cost[count + 1], cost[count + 2 :] = 1.0, MISS_COST, SMOOTH_COST
        found = solve_linear(LinearProblem(matrix, low, high, least, bounds, cost))
        return (
            None if found is None else (found[:count], float(found[count]), float(found[count + 1]))
        )

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
        stations: Vector = np.asarray(self._on.knots, dtype=np.float64)
        return Line(
            self.begin_m,
            stations,
            bends,
            tuple((n, self._station(track, a), self._station(track, b)) for n, a, b in sections),
            tuple(dict.fromkeys(binds)),
            max(-float(values.min()), 0.0),
        )

    def _station(self, track: _Track, x_m: float) -> float:
        return float(np.interp(x_m, track.x, self._on.stations))
