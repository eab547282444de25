"""How deep a point lies in a region: exactly, or quickly from a raster that never says too little."""

from __future__ import annotations

import math
from dataclasses import fields, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from choreo.words.records import dataclass

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

# Points at a time: their intermediate arrays stay in a core's cache.
CHUNK = 16_384
# Pairs of points and edges that are looked at in one go.
MOST_AT_ONCE = 50_000
# Cells are no finer than this (m), and no more than so many: 2 MB of a raster.
FINEST_CELL_M = 0.25
MOST_CELLS = 250_000
# Cells times edges: a seventh of a second.
MOST_WORK = 60_000_000
# Single precision at a few kilometres.
ROUNDING_M = 1e-3
# Corners this far beyond an edge's line still count as on it, and loosen the edge's bound by as much: sides that
# are written in parts, in mm, stay sides.
ON_LINE_M = 1e-3


@dataclass(frozen=True, slots=True)
class Edges:
    """Edges of a boundary, the region on their left: starts, unit directions, lengths; shape (n,) each.

    outer: the whole region lies on the left of the edge's line.
    """

    x_m: Array
    y_m: Array
    along_x: Array
    along_y: Array
    length_m: Array
    outer: Mask


@dataclass(frozen=True, slots=True)
class DepthField:
    """A polygonal region and its edges; sign +1 counts depth inside as positive, -1 depth outside."""

    geometry: BaseGeometry
    edges: Edges
    sign: int

    @property
    def edge_count(self) -> int:
        """How many edges its boundary has."""
        return len(self.edges.x_m)

    def depth_m(self, x_m: Array, y_m: Array) -> Array:
        """Give the signed distance to the boundary, exactly, in m; x_m, y_m of any one shape."""
        flat_x, flat_y = np.ravel(x_m), np.ravel(y_m)
        distances, _ = _distances(self.edges, flat_x, flat_y, np.float64)
        inside = shapely.contains_xy(self.geometry, flat_x, flat_y)
        signed = np.where(inside, distances, -distances) * self.sign
        return np.asarray(signed.reshape(np.shape(x_m)), dtype=np.float64)

    def near(self, x_m: Array, y_m: Array, within_m: float) -> DepthField:
        """Give the region with only those edges that lie within so many m of some points of shape (n,)."""
        e = self.edges
        from_x, from_y = x_m - e.x_m[:, None], y_m - e.y_m[:, None]
        length = e.length_m[:, None]
        along = np.clip(from_x * e.along_x[:, None] + from_y * e.along_y[:, None], 0, length)
        away = np.hypot(from_x - along * e.along_x[:, None], from_y - along * e.along_y[:, None])
        kept = away.min(axis=1, initial=math.inf) <= within_m
        return replace(self, edges=Edges(*(getattr(e, one.name)[kept] for one in fields(Edges))))

    def holds(self, x_m: Array, y_m: Array) -> Mask:
        """Tell which points lie inside or on the edge; x_m, y_m of shape (n,)."""
        return np.asarray(shapely.intersects_xy(self.geometry, x_m, y_m))


@dataclass(frozen=True, slots=True)
class Field:
    """Depths in cells, raised by error_m, the most that they can be wrong by within a cell; nearest edges.

    Beyond the raster, whose rim lies rim_m outside the region's bounds, depth inside is at most minus the
    way to those bounds; depth outside (rim_m negative) is not told there, hence infinite.
    """

    cells_m: NDArray[np.float32]
    nearest: NDArray[np.int32]
    columns: int
    rows: int
    left_m: float
    low_m: float
    cell_m: float
    error_m: float
    rim_m: float

    def most_m(self, x_m: Array, y_m: Array) -> tuple[Array, NDArray[np.int32]]:
        """Give what the depth is at most, in m, and the edge nearest to the cell; x_m, y_m of any one shape."""
        column = np.clip((x_m - self.left_m) / self.cell_m, 0, self.columns - 1).astype(np.int32)
        row = np.clip((y_m - self.low_m) / self.cell_m, 0, self.rows - 1).astype(np.int32)
        row *= self.columns
        row += column
        depths = self.cells_m.take(row).astype(np.float64)
        if self.rim_m >= 0:
            half_x, half_y = self.columns * self.cell_m / 2, self.rows * self.cell_m / 2
            over_x = np.abs(x_m - (self.left_m + half_x)) - half_x
            over_y = np.abs(y_m - (self.low_m + half_y)) - half_y
            over = np.maximum(over_x, over_y)
            beyond = over > 0
            if beyond.any():
                way_m = over[beyond] + self.rim_m
                depths[beyond] = np.minimum(depths[beyond], self.error_m - way_m)
        return depths, self.nearest.take(row)


def region_of(geometry: BaseGeometry, sign: int = 1) -> DepthField:
    """Give a polygonal geometry as a region."""
    shapely.prepare(geometry)
    starts, sides = [np.empty((0, 2))], [np.empty((0, 2))]
    for polygon in shapely.get_parts(geometry):
        for ring in shapely.get_rings(orient(polygon)):
            corners = shapely.get_coordinates(ring)
            starts.append(corners[:-1])
            sides.append(np.diff(corners, axis=0))
    start, side = np.concatenate(starts), np.concatenate(sides)
    length = np.hypot(side[:, 0], side[:, 1])
    real = length > 0
    start, along, length = start[real], side[real] / length[real, None], length[real]
    outer = np.zeros(len(start), dtype=np.bool_)
    if sign > 0:
        # How far the whole region reaches to the right of each edge's line, by the corners of its hull.
        hull = shapely.get_coordinates(shapely.convex_hull(geometry))
        reach = along[:, 1, None] * (hull[:, 0] - start[:, 0, None])
        reach -= along[:, 0, None] * (hull[:, 1] - start[:, 1, None])
        outer = reach.max(axis=1, initial=-math.inf) < ON_LINE_M
    edges = Edges(start[:, 0], start[:, 1], along[:, 0], along[:, 1], length, outer)
    return DepthField(geometry, edges, sign)


def field_of(region: DepthField, beyond_m: float, most_work: int = MOST_WORK) -> Field:
    """Give the raster of a region and of a rim of beyond_m round it; most_work: cells times edges."""
    left, low, right, high = region.geometry.bounds
    wide, tall = right - left + 2 * beyond_m, high - low + 2 * beyond_m
    cells = max(min(MOST_CELLS, most_work // max(region.edge_count, 1)), 1000)
    cell_m = max(FINEST_CELL_M, math.sqrt(wide * tall / cells))
    columns, rows = math.ceil(wide / cell_m) + 2, math.ceil(tall / cell_m) + 2
    left_m, low_m = left - beyond_m - cell_m, low - beyond_m - cell_m
    x_m = left_m + cell_m * (np.arange(columns) + 0.5)
    y_m = low_m + cell_m * (np.arange(rows) + 0.5)
    xs, ys = (axis.ravel() for axis in np.meshgrid(x_m, y_m))
    distances, nearest = _distances(region.edges, xs, ys, np.float32)
    inside = shapely.contains_xy(region.geometry, xs, ys)
    error_m = cell_m * math.sqrt(0.5) + ROUNDING_M
    depths = (np.where(inside, distances, -distances) * region.sign + error_m).astype(np.float32)
    if region.sign < 0:
        grid = depths.reshape(rows, columns)
        grid[[0, -1], :] = np.inf
        grid[:, [0, -1]] = np.inf
    rim_m = beyond_m if region.sign > 0 else -1.0
    return Field(depths.ravel(), nearest, columns, rows, left_m, low_m, cell_m, error_m, rim_m)


def _distances(
    edges: Edges,
    x_m: NDArray[np.floating],
    y_m: NDArray[np.floating],
    kind: type[np.floating],
) -> tuple[NDArray[np.floating], NDArray[np.int32]]:
    """Unsigned distances to the boundary and its nearest edges; an edge at a time over a chunk of points."""
    columns = (edges.x_m, edges.y_m, edges.along_x, edges.along_y, edges.length_m)
    rows = np.stack(columns, axis=1).astype(kind)
    if x_m.size * len(rows) <= MOST_AT_ONCE:
        return _distances_at_once(rows, x_m.astype(kind), y_m.astype(kind))
    result = np.empty(x_m.shape, dtype=kind)
    nearest = np.zeros(x_m.shape, dtype=np.int32)
    for begin in range(0, x_m.size, CHUNK):
        part = slice(begin, begin + CHUNK)
        x, y = x_m[part].astype(kind), y_m[part].astype(kind)
        least, edge = np.full(x.shape, np.inf, dtype=kind), nearest[part]
        for index, (ax, ay, tx, ty, length) in enumerate(rows):
            px, py = x - ax, y - ay
            along = px * tx + py * ty
            np.maximum(along, 0, out=along)
            np.minimum(along, length, out=along)
            px -= along * tx
            py -= along * ty
            px *= px
            py *= py
            px += py
            np.copyto(edge, index, where=px < least)
            np.minimum(least, px, out=least)
        result[part] = np.sqrt(least)
    return result, nearest


def _distances_at_once(
    rows: NDArray[np.floating], x_m: NDArray[np.floating], y_m: NDArray[np.floating]
) -> tuple[NDArray[np.floating], NDArray[np.int32]]:
    """The same over few pairs of points and edges, all in one go."""
    if not x_m.size or not len(rows):
        return np.full(x_m.shape, np.inf, x_m.dtype), np.zeros(x_m.shape, dtype=np.int32)
    ax, ay, tx, ty, length = (column[:, None] for column in rows.T)
    px, py = x_m - ax, y_m - ay
    along = px * tx + py * ty
    np.maximum(along, 0, out=along)
    np.minimum(along, length, out=along)
    px -= along * tx
    py -= along * ty
    px *= px
    py *= py
    px += py
    nearest = np.argmin(px, axis=0)
    return np.sqrt(np.take_along_axis(px, nearest[None, :], 0)[0]), nearest.astype(np.int32)
