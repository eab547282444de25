"""How deep a point lies in a region: exactly, or quickly from a raster that never says too little."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

Array = NDArray[np.float64]

# Points at a time: their intermediate arrays stay in a core's cache.
CHUNK = 16_384
FINEST_CELL_M = 0.25
MOST_CELLS = 250_000
# Cells times edges: half a second.
MOST_WORK = 300_000_000
# Single precision at a few kilometres.
ROUNDING_M = 1e-3


@dataclass(frozen=True, slots=True)
class Region:
    """A polygonal region with its edges as arrays; sign +1 counts depth inside as positive, -1 outside."""

    geometry: BaseGeometry
    starts_m: Array
    sides_m: Array
    sign: int

    @property
    def edge_count(self) -> int:
        """How many edges its boundary has."""
        return len(self.starts_m)

    def depth_m(self, x_m: Array, y_m: Array) -> Array:
        """Give the signed distance to the boundary, exactly, in m; x_m, y_m of any one shape."""
        flat_x, flat_y = np.ravel(x_m), np.ravel(y_m)
        distances, _ = _distances(self, flat_x, flat_y, np.float64)
        inside = shapely.contains_xy(self.geometry, flat_x, flat_y)
        signed = np.where(inside, distances, -distances) * self.sign
        return np.asarray(signed.reshape(np.shape(x_m)), dtype=np.float64)


@dataclass(frozen=True, slots=True)
class Field:
    """Depths in cells, raised by error_m, the most that they can be wrong by within a cell.

    Beyond the raster, whose rim lies rim_m outside the region's bounds, depth inside is at most minus the
    way to those bounds; depth outside (rim_m negative) is not told there, hence infinite.
    """

    cells_m: NDArray[np.float32]
    columns: int
    rows: int
    left_m: float
    low_m: float
    cell_m: float
    error_m: float
    rim_m: float
    edge_of_cell: NDArray[np.int32]
    edges: Array

    def close_m(self, x_m: Array, y_m: Array) -> Array:
        """Give what the depth is at most, hardly ever too much where it is positive.

        No depth is more than the distance to any edge; the edge nearest to the cell is nearly always the
        one that counts.
        """
        ax, ay, dx, dy, per_square = self.edges
        edge = self.edge_of_cell.take(self._cell_at(x_m, y_m))
        px, py = x_m - ax.take(edge), y_m - ay.take(edge)
        dx, dy = dx.take(edge), dy.take(edge)
        along = np.clip((px * dx + py * dy) * per_square.take(edge), 0, 1)
        px -= along * dx
        py -= along * dy
        return np.asarray(np.minimum(np.sqrt(px * px + py * py), self.most_m(x_m, y_m)))

    def _cell_at(self, x_m: Array, y_m: Array) -> NDArray[np.int32]:
        """The cell of each point, or the one in the rim that is nearest."""
        column = np.clip((x_m - self.left_m) / self.cell_m, 0, self.columns - 1).astype(np.int32)
        row = np.clip((y_m - self.low_m) / self.cell_m, 0, self.rows - 1).astype(np.int32)
        row *= self.columns
        row += column
        return np.asarray(row)

    def most_m(self, x_m: Array, y_m: Array) -> Array:
        """Give what the depth is at most, in m; x_m, y_m of any one shape."""
        depths = np.asarray(self.cells_m.take(self._cell_at(x_m, y_m)), dtype=np.float64)
        if self.rim_m < 0:
            return depths
        half_x, half_y = self.columns * self.cell_m / 2, self.rows * self.cell_m / 2
        over_x = np.abs(x_m - (self.left_m + half_x)) - half_x
        over_y = np.abs(y_m - (self.low_m + half_y)) - half_y
        over = np.maximum(over_x, over_y)
        beyond = over > 0
        if beyond.any():
            depths[beyond] = np.minimum(depths[beyond], self.error_m - over[beyond] - self.rim_m)
        return depths


def region_of(geometry: BaseGeometry, sign: int = 1) -> Region:
    """Give a polygonal geometry as a region."""
    shapely.prepare(geometry)
    rings = shapely.get_rings(shapely.get_parts(geometry))
    starts, sides = [np.empty((0, 2))], [np.empty((0, 2))]
    for ring in rings:
        corners = shapely.get_coordinates(ring)
        starts.append(corners[:-1])
        sides.append(np.diff(corners, axis=0))
    all_starts, all_sides = np.concatenate(starts), np.concatenate(sides)
    real = np.hypot(all_sides[:, 0], all_sides[:, 1]) > 0
    return Region(geometry, all_starts[real], all_sides[real], sign)


def field_of(region: Region, beyond_m: float) -> Field:
    """Give the raster of a region and of a rim of beyond_m round it."""
    left, low, right, high = region.geometry.bounds
    wide, tall = right - left + 2 * beyond_m, high - low + 2 * beyond_m
    cells = max(min(MOST_CELLS, MOST_WORK // max(region.edge_count, 1)), 1000)
    cell_m = max(FINEST_CELL_M, math.sqrt(wide * tall / cells))
    columns, rows = math.ceil(wide / cell_m) + 2, math.ceil(tall / cell_m) + 2
    left_m, low_m = left - beyond_m - cell_m, low - beyond_m - cell_m
    x_m = left_m + cell_m * (np.arange(columns) + 0.5)
    y_m = low_m + cell_m * (np.arange(rows) + 0.5)
    xs, ys = (axis.ravel() for axis in np.meshgrid(x_m, y_m))
    distances, nearest = _distances(region, xs, ys, np.float32)
    inside = shapely.contains_xy(region.geometry, xs, ys)
    error_m = cell_m * math.sqrt(0.5) + ROUNDING_M
    depths = (np.where(inside, distances, -distances) * region.sign + error_m).astype(np.float32)
    if region.sign < 0:
        grid = depths.reshape(rows, columns)
        grid[[0, -1], :] = np.inf
        grid[:, [0, -1]] = np.inf
    # One cell more than asked for lies round the rim, at least on these sides.
    rim_m = beyond_m if region.sign > 0 else -1.0
    edges = np.stack((*region.starts_m.T, *region.sides_m.T, 1 / (region.sides_m**2).sum(axis=1)))
    return Field(
        depths.ravel(), columns, rows, left_m, low_m, cell_m, error_m, rim_m, nearest, edges
    )


def _distances(
    region: Region,
    x_m: NDArray[np.floating],
    y_m: NDArray[np.floating],
    kind: type[np.floating],
) -> tuple[NDArray[np.floating], NDArray[np.int32]]:
    """Unsigned distances to the boundary and its nearest edges; an edge at a time over a chunk of points."""
    starts = region.starts_m.astype(kind)
    sides = region.sides_m.astype(kind)
    per_square = (1 / (region.sides_m**2).sum(axis=1)).astype(kind)
    result = np.empty(x_m.shape, dtype=kind)
    nearest = np.zeros(x_m.shape, dtype=np.int32)
    for begin in range(0, x_m.size, CHUNK):
        part = slice(begin, begin + CHUNK)
        x, y = x_m[part].astype(kind), y_m[part].astype(kind)
        least, edge = np.full(x.shape, np.inf, dtype=kind), nearest[part]
        for index in range(len(starts)):
            (ax, ay), (dx, dy) = starts[index], sides[index]
            px, py = x - ax, y - ay
            along = (px * dx + py * dy) * per_square[index]
            np.clip(along, 0, 1, out=along)
            px -= along * dx
            py -= along * dy
            px *= px
            py *= py
            px += py
            np.copyto(edge, index, where=px < least)
            np.minimum(least, px, out=least)
        result[part] = np.sqrt(least)
    return result, nearest
