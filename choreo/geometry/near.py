"""Which of many poses are near which others, without looking at every pair."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from choreo.geometry.poses import Array, Poses
from choreo.words.records import dataclass

Index = NDArray[np.intp]


def near_pairs(rows: Poses, columns: Poses, reach_m: float) -> tuple[Index, Index]:
    """Give (rows, columns) of all pairs no farther apart than reach_m, by rising row, then column.

    Columns are sorted by square cells of side reach_m: whatever is near a row is in its cell or in one of the eight
    around it, which are three stretches of the sorted columns.
    """
    grid = _Grid.over(columns, reach_m)
    key = grid.key(*grid.cell(columns))
    order = np.argsort(key, kind="stable")
    key = key[order]
    line, place = grid.cell(rows)
    found_rows, found_columns = [], []
    for beside in (-1.0, 0.0, 1.0):
        here = grid.key(line + beside, place)
        first = np.searchsorted(key, here - 1.0, side="left")
        count = np.searchsorted(key, here + 1.0, side="right") - first
        row = np.repeat(np.arange(len(count)), count)
        nth = np.arange(len(row)) - np.repeat(np.cumsum(count) - count, count)
        column = order[first[row] + nth]
        dx, dy = rows.x_m[row] - columns.x_m[column], rows.y_m[row] - columns.y_m[column]
        near = dx**2 + dy**2 <= reach_m**2
        found_rows.append(row[near])
        found_columns.append(column[near])
    row, column = np.concatenate(found_rows), np.concatenate(found_columns)
    by_row = np.lexsort((column, row))
    return row[by_row], column[by_row]


@dataclass(frozen=True)
class _Grid:
    """Square cells in lines along x, numbered from the low corner; all that counts lies within `across` of them."""

    low_m: tuple[float, float]
    side_m: float
    across: int

    @classmethod
    def over(cls, poses: Poses, side_m: float) -> _Grid:
        low, high = float(poses.x_m.min()), float(poses.x_m.max())
        return cls((low, float(poses.y_m.min())), side_m, int((high - low) / side_m) + 1)

    def cell(self, poses: Poses) -> tuple[Array, Array]:
        """Number of the line and place in it, shape (n,); a place outside is one at least a cell outside."""
        line = np.floor((poses.y_m - self.low_m[1]) / self.side_m)
        place = np.floor((poses.x_m - self.low_m[0]) / self.side_m)
        return line, np.clip(place, -2.0, self.across + 1.0)

    def key(self, line: Array, place: Array) -> Array:
        """Numbers of cells, shape (n,), rising along a line; between lines two are free for what is just outside."""
        return line * (self.across + 2.0) + place
