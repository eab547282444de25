"""Sweep along two paths for first touches: rows of one mover, for each the stations of the other.

One mover (the row) is placed at many stations; for each the other (the root) is moved forward until the
face touches. Touches of neighbouring rows are joined to branches, along which the misfit of the impact
is a continuous function.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from choreo.geometry.meeting_touch import Measure, Touching
from choreo.geometry.near import near_pairs
from choreo.geometry.poses import Array, Poses
from choreo.geometry.tolerances import CLOSE_M, PROBE_M, ROOT_M, TOUCH_M
from choreo.words.records import dataclass

# Where the paths come near each other is looked for at such steps; half a step of each is added to what counts as
# near, so that none is missed. On long paths there are MOST_LOOKS, and the steps are longer.
LOOK_M = 2.0
MOST_LOOKS = 250
# A stretch that is near is cut into about this many rows, neither nearer nor farther apart than these: about a body's
# length, over which touches move smoothly.
ROWS = 120
LEAST_ROW_M = 0.25
MOST_ROW_M = 4.0
# Between linked rows the branch is solved at every half metre, so that the misfit changes its sign between two samples.
FINE_ROW_M = 0.5
# The root is looked at by the metre: beyond the face the room stays below zero for a body's length and more.
COLUMN_M = 1.0
# Secant steps from a bracket take about six; from a guess that is a row's step away, LONGEST_STEP_M each, some more.
ITERATIONS = 40
LONGEST_STEP_M = 1.0
# From a metre to CLOSE_M; a jump of the room never gets there, and is no touch.
BRACKETINGS = 10
# Beyond the root's range, so that the row after the last good one still has its touch.
MARGIN_M = MOST_ROW_M + 2.0 * COLUMN_M
# Touches of neighbouring rows belong to one branch if the root moved by less than so many steps of the rows, and this
# much (short steps). Where it moves faster, one body slides along the other's flank: such grazes are found or missed.
LINK_RATIO = 2.5
LINK_M = 1.0

Range = tuple[float, float]


@dataclass(frozen=True)
class Branch:
    """Touches along one continuous branch: stations of row and root, and their measures, shape (n,)."""

    row_m: Array
    root_m: Array
    overlap_m: Array
    misfit_m: Array


class Sweep:
    """Both movers as row and root; root_is_a: the root is a, else b."""

    def __init__(
        self, touching: Touching, row_range_m: Range, root_range_m: Range, *, root_is_a: bool
    ) -> None:
        self.touching = touching
        self.row_range_m, self.root_range_m = row_range_m, root_range_m
        self.root_is_a = root_is_a
        a, b = touching.path_a, touching.path_b
        self._row_path, self._root_path = (b, a) if root_is_a else (a, b)

    def measure(self, row: Array, root: Array) -> Measure:
        """Measure at stations of row and root, shape (n,) each, in m."""
        return self.touching.at(root, row) if self.root_is_a else self.touching.at(row, root)

    def _measure_rows(self, rows: Poses, root: Array) -> Measure:
        """Measure rows that are placed already, at stations of the root."""
        roots = self._root_path.pose(root)
        both = (roots, rows) if self.root_is_a else (rows, roots)
        return self.touching.measure(*both)

    def stations_ab(self, row: Array, root: Array) -> tuple[Array, Array]:
        """Give (stations of a, stations of b) for stations of row and root, shape (n,) each, in m."""
        return (root, row) if self.root_is_a else (row, root)

    def branches(self) -> list[Branch]:
        """Find every branch of touches, finely sampled."""
        if self._row_path is self._root_path and not any(
            any(bends) for _, _, *bends in self._row_path.stretches()
        ):
            return list(self._along_one_line())
        found = []
        for window, columns in self._near_windows():
            length = window[1] - window[0]
            step = min(max(length / ROWS, LEAST_ROW_M), MOST_ROW_M)
            count = math.ceil(length / step) + 1 if length > 0.0 else 1
            rows = np.linspace(window[0], window[1], count)
            found += self._joined(rows, *self._scan(rows, columns))
        return found

    def _along_one_line(self) -> Iterator[Branch]:
        """On one straight path, touches at one station are those at every other, by so much ahead or behind."""
        (first, last), (low, high) = self.row_range_m, self.root_range_m
        if first > last or low > high:
            return
        here = np.array([(first + last) / 2.0])
        reach = self.touching.reach_m + MARGIN_M
        count = math.ceil(2.0 * reach / COLUMN_M) + 1
        _, guesses = self._scan(here, np.linspace(here[0] - reach, here[0] + reach, count))
        for guess in guesses:
            root, measure = self.touches(here, np.array([guess]))
            ahead = float(root[0] - here[0])
            beyond = np.array([-MARGIN_M, 0.0, 0.0, MARGIN_M])
            row = np.clip(np.array([low, low, high, high]) - ahead + beyond, first, last)
            row = np.unique(row[np.abs(row + ahead - np.clip(row + ahead, low, high)) <= MARGIN_M])
            if not len(row):
                continue
            misfit = np.nan if abs(measure.room_m[0]) > TOUCH_M else measure.misfit_m[0]
            both = np.full(len(row), measure.overlap_m[0]), np.full(len(row), misfit)
            yield Branch(row, row + ahead, *both)

    def _near_windows(self) -> list[tuple[Range, Array]]:
        """Stretches of the row's path near the root's, each with the columns near it."""
        lo, hi = self.root_range_m
        if lo > hi or self.row_range_m[0] > self.row_range_m[1]:
            # A mover that starts beyond where it could meet anybody.
            return []
        rows = _looks(self.row_range_m)
        # A little beyond the range, so that branches are known where they leave it.
        roots = _looks((lo - MARGIN_M, hi + MARGIN_M))
        row_step = rows[1] - rows[0] if len(rows) > 1 else 0.0
        root_step = roots[1] - roots[0]
        p, q = self._row_path.pose(rows), self._root_path.pose(roots)
        reach = self.touching.reach_m + (row_step + root_step) / 2.0
        near = (p.x_m[:, None] - q.x_m) ** 2 + (p.y_m[:, None] - q.y_m) ** 2 <= reach**2
        near_rows = np.flatnonzero(near.any(axis=1))
        if not len(near_rows):
            return []
        windows = []
        for group in np.split(near_rows, np.flatnonzero(np.diff(near_rows) > 1) + 1):
            low = max(rows[group[0]] - row_step, self.row_range_m[0])
            high = min(rows[group[-1]] + row_step, self.row_range_m[1])
            reached = np.flatnonzero(near[group[0] : group[-1] + 1].any(axis=0))
            first, last = roots[reached[0]] - root_step, roots[reached[-1]] + root_step
            first, last = max(first, roots[0]), min(last, roots[-1])
            count = math.ceil((last - first) / COLUMN_M) + 1
            windows.append(((float(low), float(high)), np.linspace(first, last, count)))
        return windows

    def _scan(self, rows: Array, columns: Array) -> tuple[NDArray[np.intp], Array]:
        """Find all touches of rows: (index of the row, station of the root), both sorted."""
        p, q = self._row_path.pose(rows), self._root_path.pose(columns)
        i, j = near_pairs(p, q, self.touching.reach_m + 2.0 * COLUMN_M)
        if len(i) < 2:
            return np.array([], dtype=np.intp), np.array([])
        room = self.measure(rows[i], columns[j]).room_m
        starts = (i[1:] == i[:-1]) & (j[1:] == j[:-1] + 1) & (room[:-1] > 0.0) & (room[1:] <= 0.0)
        k = np.flatnonzero(starts)
        if not len(k):
            return np.array([], dtype=np.intp), np.array([])
        ends = (columns[j[k]], columns[j[k + 1]])
        roots, good = self._bracketed(rows[i[k]], ends, (room[k], room[k + 1]))
        return i[k][good], roots[good]

    def _bracketed(
        self, rows: Array, ends: tuple[Array, Array], rooms: tuple[Array, Array]
    ) -> tuple[Array, NDArray[np.bool_]]:
        """False position with halving of the end that stays (Illinois), all rows at once.

        Only close enough for `touches` to finish. A jump of the room is no touch: it never gets small.
        """
        placed = self._row_path.pose(rows)
        (low, high), (at_low, at_high) = ends, rooms
        middle, room = low, at_low
        side = np.zeros(len(rows))
        for _ in range(BRACKETINGS):
            middle = low + (high - low) * (at_low / (at_low - at_high))
            room = self._measure_rows(placed, middle).room_m
            if float(np.abs(room).max()) <= CLOSE_M:
                break
            ahead = room > 0.0
            at_high = np.where(ahead & (side > 0), at_high / 2.0, at_high)
            at_low = np.where(~ahead & (side < 0), at_low / 2.0, at_low)
            low, at_low = np.where(ahead, middle, low), np.where(ahead, room, at_low)
            high, at_high = np.where(ahead, high, middle), np.where(ahead, at_high, room)
            side = np.where(ahead, 1.0, -1.0)
        return middle, np.abs(room) <= CLOSE_M

    def touches(self, rows: Array, guesses: Array) -> tuple[Array, Measure]:
        """Move the root until it touches, from guesses; where it finds none, the room stays open.

        rows, guesses: stations in m, shape (n,). Returns stations of the root and the measures there.
        """
        placed, root = self._row_path.pose(rows), guesses
        measure = self._measure_rows(placed, root)
        if not len(rows) or float(np.abs(measure.room_m).max()) <= ROOT_M:
            return root, measure
        slope = -np.ones_like(root)
        if not (self.root_is_a and self.touching.face == "front"):
            probe = self._measure_rows(placed, root + PROBE_M).room_m
            slope = (probe - measure.room_m) / PROBE_M
        for _ in range(ITERATIONS):
            slope = np.where(np.abs(slope) < PROBE_M, -1.0, slope)
            step = np.clip(-measure.room_m / slope, -LONGEST_STEP_M, LONGEST_STEP_M)
            fresh = self._measure_rows(placed, root + step)
            moved = np.abs(step) > ROOT_M
            change = fresh.room_m - measure.room_m
            slope = np.where(moved, change / np.where(moved, step, 1.0), slope)
            root, measure = root + step, fresh
            if float(np.abs(measure.room_m).max()) <= ROOT_M:
                break
        return root, measure

    def _joined(self, rows: Array, index: NDArray[np.intp], roots: Array) -> list[Branch]:
        """Join touches of neighbouring rows and sample finely between them."""
        chains: list[list[tuple[float, float]]] = []
        open_chains: list[list[tuple[float, float]]] = []
        step = float(rows[1] - rows[0]) if len(rows) > 1 else 0.0
        most = LINK_RATIO * step + LINK_M
        at = 0
        for number, row in enumerate(rows.tolist()):
            here = []
            while at < len(index) and index[at] == number:
                here.append(float(roots[at]))
                at += 1
            kept = []
            for chain in open_chains:
                near = min(here, key=lambda one: abs(one - chain[-1][1]), default=math.inf)
                if abs(near - chain[-1][1]) <= most:
                    here.remove(near)
                    chain.append((row, near))
                    kept.append(chain)
            fresh = [[(row, root)] for root in here]
            chains += fresh
            open_chains = kept + fresh
        return [self._fine(np.array(chain), step) for chain in chains]

    def _fine(self, chain: Array, step: float) -> Branch:
        row, root = chain[:, 0], chain[:, 1]
        parts = math.ceil(step / FINE_ROW_M) if len(chain) > 1 else 1
        if parts > 1:
            coarse = np.arange(len(chain))
            fine = np.arange((len(chain) - 1) * parts + 1) / parts
            row, root = np.interp(fine, coarse, row), np.interp(fine, coarse, root)
        root, measure = self.touches(row, root)
        lost = np.abs(measure.room_m) > TOUCH_M
        misfit = np.where(lost, np.nan, measure.misfit_m)
        return Branch(row, root, measure.overlap_m, misfit)


def _looks(range_m: Range) -> Array:
    length = range_m[1] - range_m[0]
    if length <= 0.0:
        return np.array([range_m[0]])
    step = max(LOOK_M, length / MOST_LOOKS)
    return np.linspace(range_m[0], range_m[1], max(2, math.ceil(length / step) + 1))
